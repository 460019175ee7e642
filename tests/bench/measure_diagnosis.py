"""The full diagnosis of blocked builds, against one plain question on the same catalog."""

from collections.abc import Iterator
from functools import partial

from catalog.units import NM_PER_MM
from service.fit.build import Build
from service.fit.change import Change, PartialBuild, changed
from service.fit.engine import fit
from service.fit.requirements import given
from tests.bench.results import Result, slower
from tests.bench.setting import Made, Setting
from tests.bench.timing import interleaved

MOST_PARTS = 10_000
MOST_TIMES = 20
"""A full diagnosis may take so many times as long as a plain question."""


def diagnosis(setting: Setting) -> Iterator[Result]:
    """Every blocked build with its eight requirements, against what its first remedy makes of it: a build that fits."""
    parts = max(size for size in setting.sizes if size <= MOST_PARTS)
    made = setting.made(parts, on_face=100)
    for name, build in made.builds.blocked.items():
        plain = _mended(made, build)
        calls = {"diagnosis": partial(fit, made.graph, build), "plain": partial(fit, made.graph, plain, diagnose=False)}
        samples = interleaved(calls, seconds=0)
        what = f"diagnosis of {name.replace('_', ' ')}, {parts:,} parts, {len(given(build))} requirements"
        yield slower(what, samples["diagnosis"], samples["plain"], "the same build, mended", MOST_TIMES)


def _mended(made: Made, build: Build) -> Build:
    answer = fit(made.graph, build)
    if answer.verdict != "blocked" or not answer.remedies:
        message = f"a build that should be blocked and have a remedy: {build}"
        raise AssertionError(message)
    remedy = answer.remedies[0]
    said = {**remedy.swap, **{field: length / NM_PER_MM for field, length in remedy.move.items()}}
    return changed(build, Change(give_up=list(remedy.give_up), set=PartialBuild(**said)))  # type: ignore[arg-type]
