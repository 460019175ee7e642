"""The releases that are being asked: read once, kept as constraint graphs, the newest always among them."""

import threading
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import sqlalchemy as sa

from catalog.database import DatabaseFault, open_read_only, reading
from catalog.domain import Release
from catalog.reader import WrongDigest, read_snapshot
from catalog.releases import UnknownRelease, find_release, list_releases, releases_holding
from service.fit.graph import ConstraintGraph

KEPT = 4
"""Releases held in memory, the longest unused of them given up first."""
LATEST = "latest"


class Live:
    """Releases of one catalog database, read-only, safe to ask from several threads.

    Which release is the newest is asked of the database each time (one small query), so a published release
    is answered from without a restart. While the database cannot be read, what is held goes on being answered.
    """

    def __init__(self, database: str) -> None:
        self._database = database
        self._engine: sa.Engine | None = None
        self._held: OrderedDict[tuple[int, str], ConstraintGraph] = OrderedDict()
        self._lock = threading.Lock()

    def graph(self, reference: str | None = None) -> ConstraintGraph:
        """The graph of a release by number or name; None or `latest` is the newest.

        Raises
        ------
        UnknownRelease, WithdrawnRelease
        DatabaseFault
            When the catalog cannot be read and the release is not held.
        """
        wanted = None if reference == LATEST else reference
        try:
            with reading(self._opened()) as connection:
                return self._load(connection, find_release(connection, wanted)[0])
        except (DatabaseFault, WrongDigest) as fault:
            held = self._find_held(wanted)
            if held is None:
                raise DatabaseFault(str(fault)) from fault
            return held

    def releases(self) -> list[Release]:
        """Every published release, the oldest first.

        Raises
        ------
        DatabaseFault
        """
        with reading(self._opened()) as connection:
            return list_releases(connection)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """The database itself, for what no one release holds.

        Raises
        ------
        DatabaseFault
        """
        with reading(self._opened()) as connection:
            yield connection

    def releases_holding(self, references: Iterable[str]) -> dict[str, list[int]]:
        """Numbers of the releases that hold a part under each of these references, by the casefolded reference.

        Empty while the catalog cannot be read: nothing is known then, and nothing is said.
        """
        try:
            with reading(self._opened()) as connection:
                return releases_holding(connection, references)
        except DatabaseFault:
            return {}

    def ready(self) -> Release:
        """The newest release, when the database can be opened afresh and that release is held.

        Raises
        ------
        DatabaseFault
        """
        self.close()
        try:
            with reading(self._opened()) as connection:
                return self._load(connection, find_release(connection)[0]).snapshot.release
        except (UnknownRelease, WrongDigest) as fault:
            raise DatabaseFault(str(fault)) from fault

    def newest_held(self) -> int:
        """Number of the newest release in memory; 0 where there is none."""
        with self._lock:
            return max((number for number, _ in self._held), default=0)

    def close(self) -> None:
        """Give up the connections to the database; the next question opens it afresh."""
        with self._lock:
            engine, self._engine = self._engine, None
        if engine is not None:
            engine.dispose()

    def _opened(self) -> sa.Engine:
        with self._lock:
            if self._engine is None:
                self._engine = open_read_only(self._database)
            return self._engine

    def _load(self, connection: sa.Connection, release: Release) -> ConstraintGraph:
        key = (release.number, release.digest)
        with self._lock:
            if key not in self._held:
                self._held[key] = ConstraintGraph(read_snapshot(connection, release.number))
                if len(self._held) > KEPT:
                    self._held.popitem(last=False)
            self._held.move_to_end(key)
            return self._held[key]

    def _find_held(self, reference: str | None) -> ConstraintGraph | None:
        with self._lock:
            graphs = sorted(self._held.values(), key=lambda graph: graph.snapshot.release.number)
        if reference is None:
            return graphs[-1] if graphs else None
        names = {str(graph.snapshot.release.number): graph for graph in graphs}
        names |= {graph.snapshot.release.name: graph for graph in graphs}
        return names.get(reference)
