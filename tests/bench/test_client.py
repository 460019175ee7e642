"""The light client that measures over HTTP: it sends what it is given, reads every answer whole, and keeps its pace."""

from itertools import repeat
from pathlib import Path
from time import perf_counter

from tests.bench.bare import bare
from tests.bench.client import Answered, Request, drive, get, post
from tests.bench.process import resident, used, workers


def test_the_client_asks_and_reads(tmp_path: Path) -> None:
    content = b"x" * 300_000
    with bare(content, tmp_path) as server:
        requests = [
            Request("get", get("/")),
            Request("post", post("/", b'{"engine": "E-1"}')),
            Request("wrong", get("/nowhere")),
            Request("closing", get("/", "Connection: close")),
        ] * 20
        answered: list[Answered] = []
        drive(server.port, requests, 3, answered.append)
        assert len(answered) == len(requests)
        statuses = {each.name: each.status for each in answered}
        assert statuses == {"get": 200, "post": 200, "wrong": 404, "closing": 200}
        assert {each.size for each in answered if each.status == 200} == {len(content)}
        (worker,) = workers(server)
        assert used(worker) > 0
        assert resident(worker) > 10

        paced: list[Answered] = []
        started = perf_counter()
        drive(server.port, repeat(Request("get", get("/"))), 8, paced.append, pace=50, seconds=1)
        assert 0.9 < perf_counter() - started < 5
        # None comes early; a machine that stands still for a while sends what was due in that time at once.
        assert 10 <= len(paced) <= 51
