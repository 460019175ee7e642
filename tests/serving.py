"""The service as a program of its own, for tests and benchmarks that ask it over a real connection."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from tempfile import TemporaryFile
from typing import NamedTuple


class Served(NamedTuple):
    """A server that answers: where, and the process that was started."""

    port: int
    process: subprocess.Popen[bytes]


def free_port() -> int:
    """A port that nobody listens on at the moment."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
        return port


@contextmanager
def served(database: str, *options: str, seconds: float = 120) -> Iterator[Served]:
    """`beltplane serve` over a catalog, from when it is ready until the block ends."""
    port = free_port()
    beltplane = Path(sys.executable).parent / "beltplane"
    command = [str(beltplane), "--database", database, "serve", "--port", str(port), *options]
    with running(command, port, "/readyz", seconds) as found:
        yield found


@contextmanager
def running(
    command: Sequence[str], port: int, path: str, seconds: float, environment: Mapping[str, str] | None = None
) -> Iterator[Served]:
    """A server, from when it answers at this path until the block ends."""
    with TemporaryFile() as said:
        settings = {**os.environ, **(environment or {})}
        process = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT, env=settings)
        try:
            started = time.monotonic()
            while not answers(port, path):
                if process.poll() is not None or time.monotonic() > started + seconds:
                    said.seek(0)
                    raise AssertionError(f"the server did not start: {said.read().decode(errors='replace')}")
                time.sleep(0.05)
            yield Served(port, process)
        finally:
            process.terminate()
            process.wait(30)


def answers(port: int, path: str) -> bool:
    """Whether something answers 200 there."""
    connection = HTTPConnection("127.0.0.1", port, timeout=5)
    try:
        connection.request("GET", path)
        return connection.getresponse().status == 200
    except OSError:
        return False
    finally:
        connection.close()
