"""Garbage that only a collector finds: where, in a process that does nothing but answer, it is looked for.

A large catalog is half a million objects that stay until the next release. Python's collector would look through all
of them now and then, and keep everybody waiting meanwhile, half a second for a hundred thousand parts.
"""

import gc
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_lock = threading.Lock()
_readers = 0


@contextmanager
def not_looked_for(*, stays: bool = False) -> Iterator[None]:
    """While a release is read: it makes no garbage, and the more there is of it the longer each look would take.

    What `stays` is left out before the next look, which would go through all of it.
    """
    global _readers  # noqa: PLW0603
    with _lock:
        _readers += 1
        gc.disable()
    try:
        yield
    finally:
        if stays:
            leave_out()
        with _lock:
            _readers -= 1
            if not _readers:
                gc.enable()


def leave_out() -> None:
    """From here on leave out all that there is now: it is going to stay."""
    gc.freeze()


def look_for_all() -> None:
    """Look once through what was left out, for a release that was given up; then leave out what stays."""
    gc.unfreeze()
    gc.collect()
    gc.freeze()
