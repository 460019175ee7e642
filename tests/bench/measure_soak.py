"""A long run over two workers: what was asked before, what was not, and what is wrong; memory must stay flat.

How many requests is an argument of the command; a million is what is asked for in the end:

    python -m tests.bench --only soak --sizes 1000 --requests 1000000
"""

from collections import Counter
from collections.abc import Iterator
from random import Random
from typing import Final
from urllib.parse import urlencode

import msgspec

from tests.bench.builds import flat
from tests.bench.client import Answered, Request, drive, get, post
from tests.bench.process import proportional, workers
from tests.bench.results import Result, measured
from tests.bench.setting import Setting
from tests.serving import served

CONNECTIONS: Final = 8
CACHE_MB: Final = 8
"""So little that it is full, and pushes out, long before the first half is over."""
SAMPLES: Final = 40
_STEADY: Final = 100_000
"""Fewer requests are over before the workers have come to rest."""
_SHARES: Final = {"known": 70, "same": 8, "new": 2, "wrong": 20}
"""Of a hundred: asked before; asked by who has the answer; asked by nobody before; bad input of every kind."""
_BRIEF: Final = "/v1/fits?detail=brief"
_CODINGS: Final = ("gzip", "zstd", "identity")
_EXPECTED: Final = {"known": {200}, "same": {304}, "new": {200}}
_encode = msgspec.json.Encoder(order="deterministic").encode


def soak(setting: Setting) -> Iterator[Result]:
    """So many requests as the setting says, over two workers and a catalog of the smallest size."""
    parts = setting.sizes[0]
    database, plain = setting.database(parts), flat(setting.made(parts).builds.plain)
    hoses = [number for number, part in setting.made(parts).snapshot.parts.items() if part.kind == "hose"]
    setting.forget()
    statuses: Counter[tuple[str, int]] = Counter()
    held: list[float] = []
    every = max(1, setting.requests // SAMPLES)
    with served(database, "--workers", "2", "--cache-mb", str(CACHE_MB)) as ours:
        pids = workers(ours)

        def tell(answered: Answered) -> None:
            statuses[answered.name, answered.status] += 1
            if statuses.total() % every == 0:
                held.append(sum(map(proportional, pids)))

        took = drive(ours.port, _requests(plain, hoses, setting.requests), CONNECTIONS, tell)
        assert workers(ours) == pids, "a worker was started anew"
    unexpected = sum(
        many for (name, status), many in statuses.items() if status not in _EXPECTED.get(name, range(400, 500))
    )
    half = held[len(held) // 2 : len(held) * 3 // 4]
    last = held[len(held) * 3 // 4 :]
    growth = (sum(last) / len(last)) / (sum(half) / len(half))
    what = f"soak of {statuses.total():,} requests, {parts:,} parts, 2 workers"
    yield measured(
        f"{what}: answers that are not as they should be, 5xx and broken connections among them",
        unexpected,
        "answers",
        0,
    )
    note = f"{last[-1]:.0f} MB in the end; {statuses.total() / took:,.0f} requests a second"
    yield measured(
        f"{what}: memory in its last quarter against the third",
        growth,
        "times",
        1.05 if setting.requests >= _STEADY else None,
        note,
    )


def _requests(plain: dict[str, str], hoses: list[str], count: int) -> Iterator[Request]:
    chance = Random(1)
    known = _known(plain, hoses)
    wrong = _wrong(plain)
    names, weights = list(_SHARES), list(_SHARES.values())
    for number in range(count):
        (name,) = chance.choices(names, weights)
        if name == "new":
            # Each distance is a question of its own.
            build = plain | {"core_distance": f"{300 + number // 1000}.{number % 1000:03} mm"}
            yield Request(name, post(_BRIEF, _encode(build), f"Accept-Encoding: {chance.choice(_CODINGS)}"))
        elif name == "wrong":
            yield Request(name, chance.choice(wrong))
        elif name == "same":
            yield Request(name, get(f"/v1/parts/{chance.choice(hoses[:200])}", "If-None-Match: *"))
        else:
            yield Request(name, chance.choice(known))


def _known(plain: dict[str, str], hoses: list[str]) -> list[bytes]:
    address = f"{_BRIEF}&{urlencode(plain)}"
    asked = [post(_BRIEF, _encode(plain), f"Accept-Encoding: {coding}") for coding in _CODINGS]
    asked += [get(address), get(address, "Accept-Encoding: gzip"), get(address, method="HEAD")]
    asked += [get(f"{address}&release=1"), get("/v1/parts?kind=water_pump"), get("/v1/connections")]
    asked += [get("/v1/releases"), get("/schema"), get("/readyz")]
    asked += [get(f"/v1/parts/{number}") for number in hoses[:200]]
    return asked


def _wrong(plain: dict[str, str]) -> list[bytes]:
    address = "/v1/fits"
    return [
        post(address, b'{"engine": '),
        post(address, b"[" * 5_000),
        post(address, b"\xff\xfe{}"),
        post(address, b'{"engine": "\\ud800"}'),
        post(address, b'{"engine": 1e999}'),
        post(address, b"{}"),
        post(address, _encode(plain | {"no_such_field": 1, "limit": 0})),
        post(address, _encode(plain | {"engine": "NO-SUCH-ENGINE"})),
        post(address, _encode(plain | {"engine": plain["front_cover"]})),
        post(address, _encode(plain | {"core_distance": "-5 mm"})),
        post(address, _encode(plain), "Content-Encoding: gzip"),
        post(address, b" " * 70_000),
        get("/v1/fits?engine=NO-SUCH-ENGINE"),
        get("/v1/fits?engine=%ff"),
        get("/v1/fits?limit=x&limit=2"),
        get("/v1/parts/NO-SUCH-PART"),
        get("/v1/parts?cursor=AAAA"),
        get("/v1/parts?release=99"),
        get("/v1/nowhere"),
        get("/v1/parts", "Accept: text/html"),
        get("/v1/parts", "Accept-Encoding: identity;q=0"),
        get("/v1/fits", method="PUT"),
        get("/v1/parts", method="DELETE"),
    ]
