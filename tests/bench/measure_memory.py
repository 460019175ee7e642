"""What a worker holds in memory: at rest, while it switches to another release, and afterwards."""

import time
from collections.abc import Iterator
from urllib.parse import urlencode

from tests.bench import process
from tests.bench.builds import flat
from tests.bench.results import Result, measured
from tests.bench.setting import Setting
from tests.bench.successive import answering_release, publish, successive
from tests.serving import served

REST_SECONDS = 5.0


def memory(setting: Setting) -> Iterator[Result]:
    """One worker over the largest catalog; the limits are for 100,000 parts."""
    parts = setting.largest
    address = "/v1/fits?" + urlencode(flat(setting.made(parts).builds.plain))
    states = successive(setting, parts, 3)
    at_rest, at_switch = (450, 800) if parts == 100_000 else (None, None)
    path = setting.folder / "served.sqlite"
    publish(states[0], path)
    with served(f"sqlite:///{path}", seconds=600) as ours:
        (worker,) = process.workers(ours)
        assert answering_release(ours.port, address) == 1
        yield _row(f"worker at rest, {parts:,} parts", worker, at_rest)
        for number, state in enumerate(states[1:], start=2):
            process.forget_highest(worker)
            publish(state, path)
            while answering_release(ours.port, "/v1/releases/latest") != number:
                time.sleep(0.1)
            assert answering_release(ours.port, address) == number
            what = f"worker during switch {number - 1}, {parts:,} parts, at most"
            yield measured(what, process.highest(worker), "MB", at_switch)
            yield _row(f"worker after switch {number - 1}, {parts:,} parts", worker, at_rest)


def _row(what: str, worker: int, at_most: float | None) -> Result:
    time.sleep(REST_SECONDS)
    return measured(what, process.resident(worker), "MB", at_most, f"PSS {process.proportional(worker):.0f} MB")
