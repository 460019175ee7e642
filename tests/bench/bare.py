"""The peer over HTTP: a bare Litestar application whose answers are ready bytes, of a file that the setting names."""

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

import msgspec
from litestar import Litestar, Request, Response, get, post

from tests.serving import Served, free_port, running

SETTING: Final = "BENCH_ANSWER"


def create_app() -> Litestar:
    """GET gives the bytes, POST decodes its body first."""
    answer = Path(os.environ[SETTING]).read_bytes()

    @get("/")
    async def give() -> Response[bytes]:
        return Response(answer, media_type="application/json")

    @post("/", status_code=200)
    async def take(request: Request[Any, Any, Any]) -> Response[bytes]:
        msgspec.json.decode(await request.body())
        return Response(answer, media_type="application/json")

    return Litestar([give, take], openapi_config=None, logging_config=None)


@contextmanager
def bare(answer: bytes, folder: Path) -> Iterator[Served]:
    """The application with this answer, on one worker of the same server as ours."""
    path = folder / "answer.json"
    path.write_bytes(answer)
    port = free_port()
    granian = Path(sys.executable).parent / "granian"
    command = [str(granian), "--interface", "asgi", "--factory", "--port", str(port), "tests.bench.bare:create_app"]
    with running(command, port, "/", 30, {SETTING: str(path)}) as found:
        yield found
