"""Which parts suit a build: a storefront's page against plain questions, and a whole catalog against its lines."""

from collections.abc import Callable, Iterator
from functools import partial
from random import Random

import msgspec

from catalog.domain import Part
from service.api import render, render_parts, wire_parts
from service.fit.build import Build
from service.fit.which import which_fit
from tests.bench.builds import anew
from tests.bench.measure_answers import WARM_UP
from tests.bench.results import Result, slower
from tests.bench.setting import Made, Setting
from tests.bench.timing import Sample, interleaved, timed

ON_A_PAGE = 48
_encode = msgspec.json.Encoder(order="deterministic").encode


def parts(setting: Setting) -> Iterator[Result]:
    """Pages of pumps, pages of everything, and all parts, beside plain builds of one drive and cover.

    No page is asked for twice, and no build: each is a question that nobody asked before. What the first page and the
    first "all" of a drive and cover take stands in rows of its own.
    """
    made = setting.made(setting.largest)
    every = sorted(made.snapshot.parts)
    pumps = [number for number in every if made.snapshot.parts[number].kind == "water_pump"]
    builds = anew(made.snapshot, made.builds.plain)
    of_pumps, of_all = pages(pumps, 1), pages(every, 2)
    calls: dict[str, Callable[[], bytes]] = {
        "pumps": lambda: suiting(made, next(builds), next(of_pumps)),
        "mixed": lambda: suiting(made, next(builds), next(of_all)),
        "plain": lambda: made.answer(next(builds)),
    }
    for _ in range(WARM_UP):
        made.answer(next(builds))
    first = {name: Sample.of([timed(call)]) for name, call in calls.items() if name != "plain"}
    samples = interleaved(calls, setting.seconds)
    for name in ("pumps", "mixed"):
        what = f"page of {ON_A_PAGE} parts ({name}), {len(every):,} parts"
        yield slower(what, samples[name], samples["plain"], "one plain question", 3)
        yield slower(f"{what}, the first of a drive and cover", first[name], samples["plain"], "one plain question")
    lines = [line(part) for part in made.snapshot.parts.values()]
    all_of_them: dict[str, Callable[[], bytes]] = {
        "all": lambda: suiting(made, next(builds), None),
        "lines": partial(_encode, lines),
    }
    first["all"] = Sample.of([timed(all_of_them["all"])])
    samples = interleaved(all_of_them, setting.seconds)
    what, peer = f'"all" {len(every):,} parts', "encoding as many such lines"
    yield slower(what, samples["all"], samples["lines"], peer, 6)
    yield slower(f"{what}, the first of a drive and cover", first["all"], samples["lines"], peer)


def pages(numbers: list[str], seed: int) -> Iterator[list[str]]:
    """Pages of these numbers, each put together anew."""
    random = Random(seed)
    while True:
        yield random.sample(numbers, ON_A_PAGE)


def suiting(made: Made, build: Build, numbers: list[str] | None) -> bytes:
    """The answer as it is sent, nothing kept of it."""
    manner = render.Manner(units="mm", detail="full", currency=made.snapshot.currency)
    return _encode(render_parts.parts(which_fit(made.graph, build, numbers), made.snapshot, manner))


def line(part: Part) -> wire_parts.PartSuits:
    """A line such as most are."""
    text = "The build does not ask about what it would join."
    return wire_parts.PartSuits(part=part.number, kind=part.kind, suits="not_concerned", code="not_asked", text=text)
