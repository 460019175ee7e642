"""What one request of each kind takes of a worker's processor: what the plan for a large shop is reckoned with."""

import shutil
from collections.abc import Iterator
from itertools import repeat
from statistics import median
from time import perf_counter
from typing import Final
from urllib.parse import urlencode

import msgspec

from tests.bench.builds import flat
from tests.bench.client import Answered, Request, drive, get, post
from tests.bench.process import used, workers
from tests.bench.results import Result, measured
from tests.bench.setting import Setting
from tests.deploy.test_nginx import configuration
from tests.serving import Served, free_port, running, served

CONNECTIONS: Final = 8
WINDOWS: Final = 5
WINDOW_SECONDS: Final = 0.7
_BRIEF: Final = "/v1/fits?detail=brief"


def costs(setting: Setting) -> Iterator[Result]:
    """Kept answers of several kinds, and what is wrong; with nginx before the service where nginx is there."""
    parts = setting.sizes[0]
    database, plain = setting.database(parts), flat(setting.made(parts).builds.plain)
    setting.forget()
    brief, coded = f"{_BRIEF}&{urlencode(plain)}", "Accept-Encoding: zstd"
    kinds = {
        "kept answer, brief, coded, by GET": get(brief, coded),
        "kept answer, brief, coded, by POST": post(_BRIEF, msgspec.json.encode(plain), coded),
        "kept answer, full, not coded, by GET": get(f"/v1/fits?{urlencode(plain)}"),
        "304": get(brief, coded, "If-None-Match: *"),
        "a part": get(f"/v1/parts/{plain['front_cover']}"),
        "an address that there is not": get("/v1/nowhere"),
        "a part that there is not": get("/v1/parts/NO-SUCH-PART"),
    }
    with served(database) as ours:
        for kind, text in kinds.items():
            processor, size, _ = _cost(ours, ours.port, Request(kind, text))
            yield measured(f"{kind}, {size:,} bytes: a worker's processor", processor, "ms")
        if shutil.which("nginx") is not None:
            port = free_port()
            path = configuration(setting.folder, port, ours.port)
            with running(["nginx", "-c", str(path)], port, "/readyz", 20):
                pinned = Request("nginx", get(f"{brief}&release=1", coded))
                processor, size, rate = _cost(ours, port, pinned)
                what = f"kept answer, pinned, {size:,} bytes, from nginx: a worker's processor"
                yield measured(what, processor, "ms", note=f"{rate:,.0f} a second on all cores")


def _cost(server: Served, port: int, request: Request) -> tuple[float, int, float]:
    """Milliseconds of the worker's processor for one request, the bytes of the answer, and requests a second."""
    (worker,) = workers(server)
    drive(port, [request], 1, lambda _: None)
    windows, sizes = [], set()
    for _ in range(WINDOWS):
        answered: list[Answered] = []
        used_before, started = used(worker), perf_counter()
        drive(port, repeat(request), CONNECTIONS, answered.append, seconds=WINDOW_SECONDS)
        took = perf_counter() - started
        windows.append(((used(worker) - used_before) / len(answered) * 1e3, len(answered) / took))
        sizes |= {each.size for each in answered}
    assert len(sizes) == 1, f"bodies of {sizes} bytes"
    return median(cost for cost, _ in windows), sizes.pop(), median(rate for _, rate in windows)
