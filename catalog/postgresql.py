"""A connection to PostgreSQL that does not wait for ever for a server that says nothing."""

from time import monotonic
from typing import Any, Final, TypeVar

from psycopg import Connection
from psycopg.abc import PQGen
from psycopg.errors import ConnectionTimeout

T = TypeVar("T")
SILENT_SECONDS: Final = 5
"""How long a server may say nothing while it is asked. One whose processes hang answers neither yes nor no, and its
machine goes on holding the connection, so that no timeout of TCP ends it."""


class ImpatientConnection(Connection[Any]):
    """As the driver's own; it is closed when the server says nothing for too long, and the question fails."""

    def wait(self, gen: PQGen[T], *args: Any, **kwargs: Any) -> T:
        """Wait for an answer as the driver does, which looks up several times a second.

        Raises
        ------
        ConnectionTimeout
        """
        try:
            return super().wait(_while_it_speaks(gen), *args, **kwargs)
        except ConnectionTimeout:
            # What it is at is not known, so nothing else can be asked over it.
            self.close()
            raise


def _while_it_speaks(waiting: PQGen[T]) -> PQGen[T]:
    heard = monotonic()
    try:
        state = next(waiting)
        while True:
            ready = yield state
            if ready:
                heard = monotonic()
            elif monotonic() - heard > SILENT_SECONDS:
                raise ConnectionTimeout(f"the server has said nothing for {SILENT_SECONDS} s")
            state = waiting.send(ready)
    except StopIteration as done:
        answer: T = done.value
        return answer
