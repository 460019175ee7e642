"""The releases that are being asked: read once, verified, kept as constraint graphs, and the newest that answers."""

import logging
import threading
import time
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager, nullcontext
from typing import Final

import msgspec
import sqlalchemy as sa

from catalog.database import DatabaseFault, NotAsPublished, open_read_only, reading
from catalog.domain import Release
from catalog.making import sharing
from catalog.reader import read_snapshot
from catalog.releases import UnknownRelease, WithdrawnRelease, find_release, list_releases, releases_holding
from service.api import garbage
from service.api.older import KEPT, Older
from service.api.readied import Answers, giving_way, make_ready
from service.fit.graph import ConstraintGraph

FALL_BACK: Final = 3
"""A service that starts takes the newest release that loads, of this many."""
AGAIN_SECONDS = 10.0
"""A release that did not load is tried again no sooner, and not before ten times what the try took."""
STALE_SECONDS = 5.0
"""After so long without knowing that what answers is the newest release, it is told to be stale."""
WAIT_SECONDS: Final = 1.0
"""How long a question waits for another's look at the database."""
LATEST: Final = "latest"
log: Final = logging.getLogger("beltplane")


class FaultyRelease(DatabaseFault):
    """A published release that cannot be loaded, or is not what was published."""


class Held(msgspec.Struct, frozen=True):
    """What answers where no release is asked for, switched as one: a release, and which there are."""

    graph: ConstraintGraph
    releases: tuple[Release, ...]
    """Every published release, the oldest first."""

    @property
    def release(self) -> Release:
        """The release that answers."""
        return self.graph.snapshot.release


class Standing(msgspec.Struct, frozen=True):
    """How what is held stands to the database."""

    release: Release | None
    """The release that answers where none is asked for; None before any is loaded."""
    newest: int
    """Number of the newest release that the database named; 0 where it never did."""
    age: float
    """Seconds since the release that answers was last known to be the newest (0 where there is none)."""
    fault: str
    """Why the database cannot be read or its newest release not be loaded, or not yet, in a sentence; else empty."""
    failures: int
    """How many tries to load a release have failed."""

    @property
    def stale(self) -> bool:
        """Whether there may be a newer release than the one that answers."""
        return bool(self.fault)


class Live:
    """Releases of one catalog database, read-only, safe to ask from several threads.

    `look` asks the database which release is the newest (one row), and switches to it once it is loaded and
    verified. While something looks regularly (`watched`), questions cost no query and are answered from
    memory, whatever becomes of the database. Where nothing does, each question asks the database.
    `alone` in a process that does nothing else, it sees to that process's garbage. `answers` are made ahead.
    """

    def __init__(self, database: str, *, alone: bool = False, answers: Answers = lambda _: ()) -> None:
        self.watched, self._answers = False, answers
        self._alone = alone
        self._database = database
        self._engine: sa.Engine | None = None
        self._held: Held | None = None
        self._newest = 0
        self._switches = 0
        self._current = 0.0
        self._fault: DatabaseFault | None = None
        self._failures = 0
        self._older = Older()
        self._loading: dict[int, Future[ConstraintGraph]] = {}
        self._refused: OrderedDict[Release, tuple[float, FaultyRelease]] = OrderedDict()
        # Guards all of the above; never kept while the database is asked.
        self._lock = threading.RLock()
        self._looking = threading.Lock()
        # Of the older releases one is loaded at a time, so that memory stays bounded.
        self._loading_older = threading.Lock()

    def graph(self, reference: str | None = None) -> ConstraintGraph:
        """The graph of a release by number or name; None or `latest` is the newest.

        A request asks for the newest once only, so that its answer never mixes two.

        Raises
        ------
        UnknownRelease, WithdrawnRelease
        DatabaseFault
            When the catalog cannot be read and the release is not held.
        """
        if reference is None or reference == LATEST:
            return self._now().graph
        held = self._find_held(reference)
        if held is not None and self.watched:
            return held
        if held is None and self.watched and self._away():
            # Waiting for it would keep threads from those who can be answered.
            raise DatabaseFault(f"The catalog cannot be read, and release {reference} is not held.")
        try:
            with reading(self._opened()) as connection:
                release, _ = find_release(connection, reference)
            return self._load(release, older=True)
        except DatabaseFault:
            if held is None:
                raise
            return held

    def releases(self) -> list[Release]:
        """Every published release, the oldest first.

        Raises
        ------
        DatabaseFault
        """
        if self.watched:
            return list(self._now().releases)
        with reading(self._opened()) as connection:
            return list_releases(connection)

    @contextmanager
    def reading(self) -> Iterator[sa.Connection]:
        """The database itself, for what no one release holds.

        Raises
        ------
        DatabaseFault
            At once, where it is known to be away.
        """
        if self.watched and self._away():
            raise DatabaseFault("The catalog cannot be read at present.")
        with reading(self._opened()) as connection:
            yield connection

    def releases_holding(self, references: Iterable[str]) -> dict[str, list[int]]:
        """Numbers of the releases that hold a part under each of these references, by the casefolded reference.

        Empty while the catalog cannot be read: nothing is known then, and nothing is said.
        """
        try:
            with self.reading() as connection:
                return releases_holding(connection, references)
        except DatabaseFault:
            return {}

    def ready(self) -> Release:
        """The newest release, now read from the database; for a command that must not go on without it.

        Raises
        ------
        DatabaseFault
        """
        standing = self.look()
        if standing.release is None or standing.fault:
            raise DatabaseFault(standing.fault or "The catalog is being read for the first time.")
        return standing.release

    def look(self) -> Standing:
        """Ask which release is the newest, and switch to it if it is another; a fault is kept and told, not raised."""
        if self._looking.acquire(timeout=WAIT_SECONDS):
            try:
                self._follow_afresh()
                self._tell(None)
            except DatabaseFault as fault:
                self._tell(fault)
            except (UnknownRelease, WithdrawnRelease) as fault:
                self._tell(DatabaseFault(str(fault)))
            finally:
                self._looking.release()
            self._clear()
        return self.standing()

    def _clear(self) -> None:
        """See to it that what was given up is no longer held in memory."""
        with self._lock:
            given_up, self._older.given_up = self._older.given_up, False
        if given_up and self._alone:
            garbage.look_for_all()

    def standing(self) -> Standing:
        """How what is held stands to the database; asks nothing of it."""
        with self._lock:
            release = None if self._held is None else self._held.release
            age = 0.0 if release is None else time.monotonic() - self._current
            fault = "" if self._fault is None else str(self._fault)
            if not fault and release is not None and age > STALE_SECONDS:
                # A look has not come to its end yet.
                fault = "The catalog's database has not answered for some seconds."
                if self._newest != release.number:
                    fault = f"Release {self._newest} is being loaded."
            return Standing(release, self._newest, age, fault, self._failures)

    def serial(self) -> int:
        """Which switch what answers came by, counted from 1; 0 where it is not known to be the newest.

        What was asked after one call is still so at the next one that gives the same, for any reference.
        """
        switches = self._switches
        if not self.watched or self._fault is not None or time.monotonic() - self._current > STALE_SECONDS:
            return 0
        return switches

    def newest_held(self) -> int:
        """Number of the release that answers where none is asked for; 0 where there is none."""
        return 0 if (held := self._held) is None else held.release.number

    def close(self) -> None:
        """Give up the connections to the database; the next question opens it afresh."""
        with self._lock:
            engine, self._engine = self._engine, None
        if engine is not None:
            engine.dispose()

    def _opened(self) -> sa.Engine:
        with self._lock:
            engine = self._engine
        if engine is None:
            engine = open_read_only(self._database)
            with self._lock:
                self._engine, unused = engine, self._engine
            if unused is not None:
                unused.dispose()
        return engine

    def _now(self) -> Held:
        """What answers now: looked for first where nothing is held or nobody looks regularly."""
        if self._held is None or not self.watched:
            self.look()
        held = self._held
        if held is None:
            raise self._fault or DatabaseFault("The catalog is being read for the first time.")
        return held

    def _away(self) -> bool:
        """Whether the database is known not to answer."""
        with self._lock:
            if self._fault is not None or self._held is None:
                return not isinstance(self._fault, FaultyRelease)
            # While a newer release is being loaded, what answers is stale though the database is there.
            return self.standing().stale and self._newest == self._held.release.number

    def _follow_afresh(self) -> None:
        opened = self._engine is not None
        try:
            self._follow()
        except FaultyRelease:
            raise
        except DatabaseFault:
            # Opened afresh it is looked over: whether it is there, and of which schema.
            self.close()
            if not opened:
                raise
            self._follow()

    def _follow(self) -> None:
        """Read which release is the newest; where it is not the one that answers, load it and switch."""
        with reading(self._opened()) as connection:
            newest, _ = find_release(connection)
            held = self._held
            known = held is not None and held.release == newest
            releases = () if known else tuple(list_releases(connection))
        with self._lock:
            self._newest = newest.number
            self._older.drop_withdrawn(newest.number)
            self._older.give_up_unused()
            if known:
                self._current = time.monotonic()
                return
        first: FaultyRelease | None = None
        if held is not None:
            with self._lock:
                self._older.make_room(2 * len(held.graph.snapshot.parts))
            self._clear()
        with giving_way() if held and self._alone else nullcontext():
            for release in reversed(releases[-FALL_BACK if self.watched and held is None else -1 :]):
                try:
                    graph = self._load(release)
                    with garbage.not_looked_for(stays=self._alone):
                        make_ready(graph, held.graph if held and self.watched else None, self._answers)
                    self._switch(Held(graph, releases))
                    break
                except FaultyRelease as fault:
                    first = first or fault
        if first is not None:
            raise first

    def _switch(self, held: Held) -> None:
        """From here on answer from another release; who is being answered keeps the graph that they have."""
        with self._lock:
            before, self._held = self._held, held
            # Behind it, so that whoever read the number before finds what they learnt of the old one outdated.
            self._switches += 1
            self._current = time.monotonic()
            self._older.take_out(held.release.number)
            if before is not None:
                self._older.keep(before.graph)
            self._older.drop_others(held.releases)
        if before is not None:
            log.info("release %s (%s) answers from now on", held.release.number, held.release.name)

    def _tell(self, fault: DatabaseFault | None) -> None:
        """Keep why the last look failed, and log it once; once more when it is over."""
        with self._lock:
            before, self._fault = self._fault, fault
        if fault is not None and str(fault) != str(before):
            log.warning("release %s goes on answering: %s", self.newest_held() or "none", fault)
        elif fault is None and before is not None:
            log.warning("the catalog is read again; release %s answers", self.newest_held())

    def _find_held(self, reference: str) -> ConstraintGraph | None:
        """The graph held of the release of this number or name."""
        with self._lock:
            held = self._held
            if held is not None and reference in (str(held.release.number), held.release.name):
                return held.graph
            return self._older.find(reference)

    def _load(self, release: Release, *, older: bool = False) -> ConstraintGraph:
        """The graph of a release, read once though many ask for it at once.

        Raises
        ------
        FaultyRelease
            Also without trying, for a while after a try that failed.
        DatabaseFault, UnknownRelease, WithdrawnRelease
        """
        with self._lock:
            held = self._find_held(str(release.number))
            if held and held.snapshot.release == release:
                return held
            until, fault = self._refused.get(release, (0.0, None))
            if fault is not None and time.monotonic() < until:
                raise fault
            waiting = self._loading.get(release.number)
            mine: Future[ConstraintGraph] = Future()
            if waiting is None:
                self._loading[release.number] = mine
        if waiting is not None:
            return waiting.result()
        try:
            with self._loading_older if older else nullcontext():
                graph = self._read(release)
        except BaseException as failed:
            mine.set_exception(failed)
            raise
        else:
            with self._lock:
                self._older.keep(graph)
            mine.set_result(graph)
            return graph
        finally:
            with self._lock:
                del self._loading[release.number]

    def _read(self, release: Release) -> ConstraintGraph:
        """Read a release beside what answers, verify its digest, and make its graph."""
        started = time.monotonic()
        try:
            with reading(self._opened()) as connection, garbage.not_looked_for(stays=self._alone):
                before = None if self._held is None else self._held.graph.snapshot
                return ConstraintGraph(sharing(read_snapshot(connection, release.number), before))
        except NotAsPublished as wrong:
            fault = FaultyRelease(str(wrong))
        except (DatabaseFault, UnknownRelease, WithdrawnRelease):
            raise
        except Exception as unforeseen:
            fault = FaultyRelease(
                f"Release {release.number} ({release.name}) cannot be loaded: {type(unforeseen).__name__}: {unforeseen}"
            )
            if release not in self._refused:
                log.exception("release %s cannot be loaded", release.number)
        now = time.monotonic()
        with self._lock:
            self._failures += 1
            self._refused[release] = (now + max(AGAIN_SECONDS, 10 * (now - started)), fault)
            while len(self._refused) > KEPT:
                self._refused.popitem(last=False)
        raise fault
