"""Whose turn it is: finding an answer is plain Python, so two at once share one core, and both only come later."""

from collections.abc import Iterator
from contextlib import contextmanager
from threading import Condition
from time import monotonic

TURN_SECONDS = 0.5
"""How long a turn lasts; what takes longer goes on beside the next, so that nobody waits for it to its end."""


class Turns:
    """Threads take turns at what keeps the interpreter busy, whoever has waited longest next."""

    def __init__(self) -> None:
        self._over = Condition()
        self._whose: object = None
        self._until = 0.0

    @contextmanager
    def turn(self) -> Iterator[None]:
        """Wait for a turn, and have it until the block ends or it has lasted long enough."""
        mine = object()
        with self._over:
            while self._whose is not None and (left := self._until - monotonic()) > 0:
                self._over.wait(left)
            self._whose, self._until = mine, monotonic() + TURN_SECONDS
        try:
            yield
        finally:
            with self._over:
                if self._whose is mine:
                    self._whose = None
                    self._over.notify()
