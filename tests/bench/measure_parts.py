"""Which parts suit a build: a storefront's page against plain questions, and a whole catalog against its lines."""

from collections.abc import Iterator
from functools import partial

import msgspec

from catalog.domain import Part
from service.api import render, render_parts, wire_parts
from service.fit.build import Build
from service.fit.which import which_fit
from tests.bench.results import Result, slower
from tests.bench.setting import Made, Setting
from tests.bench.timing import interleaved

ON_A_PAGE = 48
_encode = msgspec.json.Encoder(order="deterministic").encode


def parts(setting: Setting) -> Iterator[Result]:
    """A page of pumps, a page of everything, and all parts, of a plain build."""
    made = setting.made(setting.largest)
    build, every = made.builds.plain, sorted(made.snapshot.parts)
    pumps = [number for number in every if made.snapshot.parts[number].kind == "water_pump"][:ON_A_PAGE]
    mixed = every[:: max(1, len(every) // ON_A_PAGE)][:ON_A_PAGE]
    calls = {
        "pumps": partial(suiting, made, build, pumps),
        "mixed": partial(suiting, made, build, mixed),
        "plain": partial(made.answer, build),
    }
    samples = interleaved(calls, setting.seconds)
    for name in ("pumps", "mixed"):
        what = f"page of {ON_A_PAGE} parts ({name}), {len(every):,} parts"
        yield slower(what, samples[name], samples["plain"], "one plain question", 3)
    lines = [line(part) for part in made.snapshot.parts.values()]
    samples = interleaved(
        {"all": partial(suiting, made, build, None), "lines": partial(_encode, lines)}, setting.seconds
    )
    what = f'"all" {len(every):,} parts'
    yield slower(what, samples["all"], samples["lines"], "encoding as many such lines", 6)


def suiting(made: Made, build: Build, numbers: list[str] | None) -> bytes:
    """The answer as it is sent, nothing kept of it."""
    manner = render.Manner(units="mm", detail="full", currency=made.snapshot.currency)
    return _encode(render_parts.parts(which_fit(made.graph, build, numbers), made.snapshot, manner))


def line(part: Part) -> wire_parts.PartSuits:
    """A line such as most are."""
    text = "The build does not ask about what it would join."
    return wire_parts.PartSuits(part=part.number, kind=part.kind, suits="not_concerned", code="not_asked", text=text)
