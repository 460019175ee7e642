"""Over HTTP, on one worker: what is kept, and what has to be made, against a bare application that has the bytes."""

from collections.abc import Callable, Iterator
from time import perf_counter, process_time
from typing import Final
from urllib.parse import urlencode
from urllib.request import urlopen

import msgspec

from service.api import render
from service.fit.build import Build
from service.fit.engine import fit
from tests.bench.bare import bare
from tests.bench.builds import flat, limited
from tests.bench.client import Answered, Request, drive, get, post
from tests.bench.process import used, workers
from tests.bench.results import Result, faster
from tests.bench.setting import Made, Setting
from tests.bench.timing import Sample
from tests.serving import Served, served

CONNECTIONS: Final = 4
LEAST_ROUNDS: Final = 9
"""A window holds few questions that take long, and what one takes varies by half on a machine that others use."""
_encode = msgspec.json.Encoder(order="deterministic").encode


def cached(setting: Setting) -> Iterator[Result]:
    """A GET of what is kept, against a bare GET of the same bytes."""
    parts = setting.largest
    database = setting.database(parts)
    address = "/v1/fits?" + urlencode(flat(setting.made(parts).builds.plain))
    setting.forget()
    with served(database) as ours:
        content = urlopen(f"http://127.0.0.1:{ours.port}{address}", timeout=600).read()
        with bare(content, setting.folder) as peer:
            kept, ready = Request("ours", get(address)), Request("bare", get("/"))
            samples = _turns(
                {
                    "ours": lambda: _window(ours, lambda: kept, CONNECTIONS, 0.5),
                    "bare": lambda: _window(peer, lambda: ready, CONNECTIONS, 0.5),
                },
                setting.seconds,
            )
    what = f"GET of a kept answer of {len(content):,} bytes, {CONNECTIONS} connections, ms a request"
    note = f"by the processor's time {samples['bare'].processor / samples['ours'].processor:.2f}"
    yield faster(what, samples["ours"], samples["bare"], "bare Litestar GET of the same bytes", 0.8, note)


def uncached(setting: Setting) -> Iterator[Result]:
    """A POST that nobody asked before, against a bare POST of as many bytes and the same question in process."""
    parts = setting.largest
    database, made = setting.database(parts), setting.made(parts)
    details: dict[render.Detail, float | None] = {"full": 0.85, "brief": None}
    for detail, limit in details.items():
        yield _uncached(setting, made, database, detail, limit)


def _uncached(setting: Setting, made: Made, database: str, detail: render.Detail, limit: float | None) -> Result:
    others = limited(made.snapshot, made.builds.plain)
    content = _in_process(made, next(others), detail)
    asked = (Request("ours", post(f"/v1/fits?detail={detail}", _encode(build))) for build in others)
    ready = Request("bare", post("/", _encode(made.builds.plain)))
    with served(database, "--cache-mb", "0") as ours, bare(content, setting.folder) as peer:
        samples = _turns(
            {
                "ours": lambda: _window(ours, lambda: next(asked), 2, 1),
                "bare": lambda: _window(peer, lambda: ready, 2, 0.5),
                "in process": lambda: _timed(lambda: _in_process(made, next(others), detail)),
            },
            setting.seconds,
        )
    alone, within = samples["bare"], samples["in process"]
    both = msgspec.structs.replace(alone, median=alone.median + within.median)
    what = f"uncached POST, {len(made.snapshot.parts):,} parts, {detail}, {len(content):,} bytes, ms a request"
    name = f"bare Litestar POST ({alone.median:.3g} ms) and the answer in process ({within.median:.3g} ms)"
    note = f"by the processor's time {(alone.processor + within.processor) / samples['ours'].processor:.2f}"
    return faster(what, samples["ours"], both, name, limit, note)


def _in_process(made: Made, build: Build, detail: render.Detail) -> bytes:
    manner = render.Manner(units="mm", detail=detail, currency=made.snapshot.currency)
    return _encode(render.answer(fit(made.graph, build, explain=manner.full), made.snapshot.release, manner))


def _turns(windows: dict[str, Callable[[], tuple[float, float]]], seconds: float) -> dict[str, Sample]:
    """Open each window in turn, for so long; each gives what one request took, by the clock and of a processor."""
    for window in windows.values():
        window()
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in windows}
    started, rounds = perf_counter(), 0
    while rounds < LEAST_ROUNDS or perf_counter() - started < seconds:
        rounds += 1
        for name, window in windows.items():
            times[name].append(window())
    return {name: Sample.of(found) for name, found in times.items()}


def _window(server: Served, request: Callable[[], Request], connections: int, seconds: float) -> tuple[float, float]:
    """Seconds of one request, by the clock and of the worker's processor, while so many connections ask in turn."""
    answered: list[Answered] = []
    (worker,) = workers(server)
    used_before = used(worker)
    took = drive(server.port, iter(request, None), connections, answered.append, seconds=seconds)
    wrong = {each.status for each in answered} - {200}
    assert not wrong, f"answered with {wrong}"
    return took / len(answered), (used(worker) - used_before) / len(answered)


def _timed(call: Callable[[], object]) -> tuple[float, float]:
    started, used_before, calls = perf_counter(), process_time(), 0
    while perf_counter() - started < 0.5:
        call()
        calls += 1
    return (perf_counter() - started) / calls, (process_time() - used_before) / calls
