"""Whole answers in process: against peers that find only their core, and against themselves on smaller catalogs."""

from collections.abc import Callable, Iterator
from functools import partial
from itertools import repeat
from typing import Final

from service.fit.build import Build
from tests.bench.builds import anew, elsewhere
from tests.bench.core import core_of
from tests.bench.peer_numpy import NumpyPeer
from tests.bench.peer_solvers import clingo, cp_sat
from tests.bench.peer_sql import SqlPeer
from tests.bench.results import Result, faster, slower, tail
from tests.bench.setting import Made, Setting
from tests.bench.timing import Sample, interleaved, timed


def core(setting: Setting) -> Iterator[Result]:
    """A whole answer against SQL, numpy and two solvers that find only the core of the same question.

    No question is asked twice. Ours are of one drive and cover, which were asked about before, as the peers' tables are
    of these alone and are made before; what the first question of a drive and a cover takes stands in a row of its own.
    """
    parts = setting.largest
    made = setting.made(parts)
    ours = _in_turn(made, anew(made.snapshot, made.builds.plain))
    for _ in range(WARM_UP):
        ours()
    asked = core_of(made.snapshot, made.builds.plain)
    for most, wanted in {2: 1.2, 3: 10}.items():
        sql, arrays = SqlPeer(asked, most), NumpyPeer(asked, most)
        peers: dict[str, Callable[[], object]] = {
            "SQL, stacks joined": sql.joined,
            "SQL, stacks prepared": sql.prepared,
            "numpy": arrays.best,
            "CP-SAT, best only": partial(cp_sat, asked, most),
            "clingo, best only": partial(clingo, asked, most),
        }
        found = {
            sql.joined()[0][0],
            sql.prepared()[0][0],
            arrays.best()[0][0],
            cp_sat(asked, most),
            clingo(asked, most),
        }
        if len(found) != 1:
            message = f"the peers disagree on the cheapest: {sorted(map(str, found))}"
            raise AssertionError(message)
        samples = interleaved({"ours": ours, **peers}, setting.seconds)
        limits = (wanted, None, None, 100, 50)
        what = f"whole answer, {parts:,} parts; peer: its core, stacks of {most}"
        for name, limit in zip(peers, limits, strict=True):
            yield faster(what, samples["ours"], samples[name], name, limit)
        if most == 2:
            yield tail(f"whole answer, {parts:,} parts, p99 against median", samples["ours"], 5)
            yield _first(made, samples["SQL, stacks joined"])


def _first(made: Made, peer: Sample) -> Result:
    """The first question of each other drive and cover, for which nothing is kept but what they share."""
    others = iter(elsewhere(made.snapshot, made.builds.plain)[:FIRST])
    sample = Sample.of([timed(_in_turn(made, others)) for _ in range(FIRST)])
    what = f"whole answer, {len(made.snapshot.parts):,} parts, first question of a drive and cover"
    return faster(what, sample, peer, "SQL, stacks joined, its tables made")


def _in_turn(made: Made, builds: Iterator[Build]) -> Callable[[], bytes]:
    """A call that answers the next of these."""
    return lambda: made.answer(next(builds))


WARM_UP: Final = 200
FIRST: Final = 20


def growth(setting: Setting) -> Iterator[Result]:
    """The same questions on the same asked face, while the rest of the catalog grows."""
    small, *larger = setting.sizes
    for kind in ("plain", "whole"):
        calls = {}
        for parts in setting.sizes:
            made = setting.made(parts, on_face=100)
            build = getattr(made.builds, kind)
            # Of a whole build the trees of its circuits are kept, so that the same may be asked again.
            asked = anew(made.snapshot, build) if kind == "plain" else repeat(build)
            calls[str(parts)] = _in_turn(made, asked)
        samples = interleaved(calls, setting.seconds)
        for parts in larger:
            limit = 1.5 if parts == 100_000 else None
            what = f"{kind} answer, {parts:,} parts, 100 pumps on the face"
            yield slower(what, samples[str(parts)], samples[str(small)], f"{small:,} parts", limit)
