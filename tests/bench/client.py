"""A light client: one thread, kept connections, plain sockets, so that it takes little of the machine that it measures.

It sends what is ready to be sent and reads no more of an answer than its status and its length.
"""

import selectors
import socket
from collections.abc import Callable, Iterable, Iterator
from time import perf_counter
from typing import Final, NamedTuple

_PIECE: Final = 1 << 18


class Request(NamedTuple):
    """What is sent, as bytes, and what it is called in the results."""

    name: str
    text: bytes


class Answered(NamedTuple):
    """How one request was answered."""

    name: str
    status: int
    """0 where the connection broke."""
    seconds: float
    """Since it was sent; where requests come at a pace, since it was due."""
    at: float
    """When the answer was whole, by `perf_counter`."""
    size: int
    """Bytes of the body."""


def get(address: str, *fields: str, method: str = "GET") -> bytes:
    """The bytes of a GET."""
    return "\r\n".join([f"{method} {address} HTTP/1.1", "Host: bench", *fields, "", ""]).encode()


def post(address: str, body: bytes, *fields: str) -> bytes:
    """The bytes of a POST of JSON."""
    lines = [
        f"POST {address} HTTP/1.1",
        "Host: bench",
        "Content-Type: application/json",
        f"Content-Length: {len(body)}",
        *fields,
    ]
    return "\r\n".join([*lines, "", ""]).encode() + body


class _Connection:
    """A kept connection with at most one request on its way."""

    def __init__(self, port: int) -> None:
        self._address = ("127.0.0.1", port)
        self.request = Request("", b"")
        self.since = 0.0
        self._buffer = b""
        self._missing = -1
        self._size = self._status = 0
        self.is_over = False
        """Whether nothing more can be asked on it."""
        self.socket = self._opened()

    def _opened(self) -> socket.socket:
        found = socket.create_connection(self._address, timeout=120)
        found.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return found

    def send(self, request: Request, since: float) -> None:
        self.request, self.since = request, since
        self._buffer, self._missing = b"", -1
        self.socket.sendall(request.text)

    def read(self) -> Answered | None:
        """The answer, once it is whole."""
        piece = self.socket.recv(_PIECE)
        if not piece:
            raise ConnectionError("closed")
        if self._missing < 0:
            self._buffer += piece
            head, end, rest = self._buffer.partition(b"\r\n\r\n")
            if not end:
                return None
            self._status = int(head[9:12])
            # Whoever sends too much is cut off once that is said.
            self.is_over = self._status == 413 or b"\r\nconnection: close" in head.lower()
            self._size = 0 if self.request.text.startswith(b"HEAD") or self._status == 304 else _length(head)
            self._missing = self._size - len(rest)
        else:
            self._missing -= len(piece)
        if self._missing > 0:
            return None
        now = perf_counter()
        return Answered(self.request.name, self._status, now - self.since, now, self._size)

    def broke(self) -> Answered:
        self.is_over = True
        now = perf_counter()
        return Answered(self.request.name, 0, now - self.since, now, 0)

    def reopen(self) -> None:
        self.socket.close()
        self.socket, self.is_over = self._opened(), False


def _length(head: bytes) -> int:
    for line in head.lower().split(b"\r\n"):
        if line.startswith(b"content-length:"):
            return int(line[15:])
    raise ValueError("an answer without its length")


def drive(
    port: int,
    requests: Iterable[Request],
    connections: int,
    tell: Callable[[Answered], None],
    *,
    seconds: float = float("inf"),
    pace: float | None = None,
) -> float:
    """Send requests until they are at an end or the time is up, and tell of each answer; gives the seconds that took.

    Parameters
    ----------
    connections
        How many requests may be on their way at once. Without a `pace` each sends the next when it is answered.
    pace
        Requests a second, sent when they are due, whether others are answered or not.
    """
    waiting = iter(requests)
    every = selectors.DefaultSelector()
    free = [_Connection(port) for _ in range(connections)]
    for connection in free:
        every.register(connection.socket, selectors.EVENT_READ, connection)
    started = perf_counter()
    busy, due = 0, started
    try:
        while True:
            busy, due = _send_what_is_due(waiting, free, busy, due, pace, started + seconds)
            if not busy and (due == float("inf") or perf_counter() >= started + seconds):
                return perf_counter() - started
            next_due = min(due, started + seconds)
            idle = pace is not None and free and next_due != float("inf")
            for key, _ in every.select(max(0.0, next_due - perf_counter()) if idle else None):
                connection = key.data
                try:
                    answered = connection.read()
                except OSError:
                    answered = connection.broke()
                if answered is not None and connection.is_over:
                    every.unregister(connection.socket)
                    connection.reopen()
                    every.register(connection.socket, selectors.EVENT_READ, connection)
                if answered is not None:
                    tell(answered)
                    free.append(connection)
                    busy -= 1
    finally:
        for key in list(every.get_map().values()):
            key.data.socket.close()
        every.close()


def _send_what_is_due(
    waiting: Iterator[Request], free: list[_Connection], busy: int, due: float, pace: float | None, end: float
) -> tuple[int, float]:
    """Send on every free connection what is due; gives how many are on their way, and when the next one is due."""
    while free and due != float("inf"):
        now = perf_counter()
        if now >= end or (pace is not None and due > now):
            break
        request = next(waiting, None)
        if request is None:
            return busy, float("inf")
        free.pop().send(request, now if pace is None else due)
        busy += 1
        if pace is not None:
            due += 1 / pace
    return busy, due
