"""Whole answers in process: against peers that find only their core, and against themselves on smaller catalogs."""

from collections.abc import Callable, Iterator
from functools import partial

from tests.bench.core import core_of
from tests.bench.peer_numpy import NumpyPeer
from tests.bench.peer_solvers import clingo, cp_sat
from tests.bench.peer_sql import SqlPeer
from tests.bench.results import Result, faster, slower, tail
from tests.bench.setting import Setting
from tests.bench.timing import interleaved


def core(setting: Setting) -> Iterator[Result]:
    """A whole answer against SQL, numpy and two solvers that find only the core of the same question."""
    parts = setting.largest
    made = setting.made(parts)
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
        samples = interleaved({"ours": partial(made.answer, made.builds.plain), **peers}, setting.seconds)
        limits = (wanted, None, None, 100, 50)
        what = f"whole answer, {parts:,} parts; peer: its core, stacks of {most}"
        for name, limit in zip(peers, limits, strict=True):
            yield faster(what, samples["ours"], samples[name], name, limit)
        if most == 2:
            yield tail(f"whole answer, {parts:,} parts, p99 against median", samples["ours"], 5)


def growth(setting: Setting) -> Iterator[Result]:
    """The same questions on the same asked face, while the rest of the catalog grows."""
    small, *larger = setting.sizes
    for kind in ("plain", "whole"):
        calls = {}
        for parts in setting.sizes:
            made = setting.made(parts, on_face=100)
            calls[str(parts)] = partial(made.answer, getattr(made.builds, kind))
        samples = interleaved(calls, setting.seconds)
        for parts in larger:
            limit = 1.5 if parts == 100_000 else None
            what = f"{kind} answer, {parts:,} parts, 100 pumps on the face"
            yield slower(what, samples[str(parts)], samples[str(small)], f"{small:,} parts", limit)
