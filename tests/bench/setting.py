"""What measurements share: the sizes that were asked for, and made catalogs, each made once."""

from functools import cached_property
from pathlib import Path
from typing import Final

import msgspec

from catalog.domain import Snapshot
from catalog.migrate import upgrade
from service.api import encoded, garbage, render
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from tests.bench.assortment import snapshot
from tests.bench.builds import Builds, builds
from tests.bench.published import write

SIZES: Final = (1_000, 10_000, 100_000)
_encode = msgspec.json.Encoder(order="deterministic").encode


class Made:
    """A made catalog with its graph and its builds."""

    def __init__(self, made: Snapshot) -> None:
        self.snapshot = made
        self.builds: Builds = builds(made)

    @cached_property
    def graph(self) -> ConstraintGraph:
        """The graph of the catalog, as a worker holds it: left out of what the collector looks through."""
        graph = ConstraintGraph(self.snapshot)
        garbage.leave_out()
        return graph

    def answer(self, build: Build) -> bytes:
        """A whole answer with its sentences, but for what explains the ranking; no answer kept from one to the next."""
        manner = render.Manner(units="mm", detail="full", currency=self.snapshot.currency)
        return _encode(encoded.answer(fit(self.graph, build), self.snapshot.release, manner))


class Setting:
    """The options of one run.

    `seconds` is how long each comparison goes on, three rounds at least; `requests` how many the soak sends.
    """

    def __init__(
        self,
        folder: Path,
        sizes: tuple[int, ...] = SIZES,
        seed: int = 1,
        seconds: float = 5,
        requests: int = 100_000,
    ) -> None:
        self.folder, self.sizes, self.seed, self.seconds = folder, tuple(sorted(sizes)), seed, seconds
        self.requests = requests
        self._made: dict[tuple[int, int | None], Made] = {}

    @property
    def largest(self) -> int:
        """The largest size asked for."""
        return self.sizes[-1]

    def made(self, parts: int, on_face: int | None = None) -> Made:
        """The made catalog of this size, with so many pumps on the asked face."""
        key = (parts, on_face)
        if key not in self._made:
            self._made[key] = Made(snapshot(parts, self.seed, on_face))
        return self._made[key]

    def database(self, parts: int) -> str:
        """The URL of an SQLite database to which the made catalog of this size is published through migrations."""
        path = self.folder / f"{parts}.sqlite"
        url = f"sqlite:///{path}"
        if not path.exists():
            migrations = self.folder / f"migrations_{parts}"
            write(self.made(parts).snapshot, migrations)
            upgrade(url, migrations)
        return url

    def forget(self) -> None:
        """Let go of the made catalogs, so that one measurement does not weigh on the next."""
        self._made.clear()
        garbage.look_for_all()
