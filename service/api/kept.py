"""Answers kept as they were sent, so that the same question is answered once: bounded in bytes, the longest unused go.

An answer stands under its entity tag, which says all that its bytes follow from (`exchange.py`), so nothing here ever
turns wrong: what is not asked for any more is pushed out.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import Future
from itertools import islice
from typing import Final

import msgspec

from service.fit.graph import ConstraintGraph

ENTRY_BYTES: Final = 600
"""What an entry takes besides the bytes that it holds: keys, objects and its place in the order."""
MOST_LOOKED_AT: Final = 5_000
"""Entries looked at for those that are asked for again and again."""
QUICK_SECONDS: Final = 0.25
"""An answer that takes the processor longer is not made ahead: a release would come the later for it."""
MakeAhead = Callable[[ConstraintGraph], None]
"""Makes an answer from a release that does not answer yet, and keeps it."""


class Content(msgspec.Struct, frozen=True):
    """The body of an answer and what its head says of it."""

    body: bytes
    media_type: str
    coding: str
    """The content coding that was applied; `identity` for none."""


class Known(msgspec.Struct, frozen=True):
    """A request that was answered before: its answer's tag and head, and while which release answers that holds."""

    tag: str
    headers: tuple[tuple[bytes, bytes], ...]
    serial: int
    route: str


class Tally(msgspec.Struct, frozen=True):
    """How the kept answers stand."""

    hits: int
    misses: int
    evicted: int
    size: int
    """Bytes that they take."""
    entries: int


class _Entry:
    __slots__ = ("ahead", "size", "used", "what")

    def __init__(self, what: Content | Known, size: int, ahead: MakeAhead | None) -> None:
        self.what, self.size, self.ahead = what, size, ahead
        self.used = False


class BeingMade(Exception):
    """Another request is making the same answer; who waits for it should not keep a thread from others meanwhile."""

    def __init__(self, tag: str, other: "Future[Content]") -> None:
        super().__init__(tag)
        self.tag, self.other = tag, other


class Kept:
    """Answers by their tags, and requests by what they say; safe to use from several threads."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        """Bytes at most, 0 to keep nothing."""
        self._entries: OrderedDict[Hashable, _Entry] = OrderedDict()
        self._making: dict[str, Future[Content]] = {}
        self._lock = threading.Lock()
        self._size = self._hits = self._misses = self._evicted = 0

    def content(self, tag: str) -> Content | None:
        """The answer of this tag, where it is kept."""
        found = self._find(tag)
        return found if isinstance(found, Content) else None

    def known(self, request: Hashable) -> Known | None:
        """What is known of a request."""
        found = self._find(request)
        return found if isinstance(found, Known) else None

    def keep(self, key: Hashable, what: Content | Known, size: int, ahead: MakeAhead | None = None) -> None:
        """Keep an answer by its tag, or a request by what it says; `size` is what it holds, in bytes."""
        size += ENTRY_BYTES
        if size > self.limit:
            return
        with self._lock:
            before = self._entries.pop(key, None)
            self._entries[key] = _Entry(what, size, ahead)
            self._size += size - (0 if before is None else before.size)
            while self._size > self.limit:
                _, gone = self._entries.popitem(last=False)
                self._size -= gone.size
                self._evicted += 1

    def asked_again(self, most: int) -> list[MakeAhead]:
        """What makes the answers that were asked for more than once, the last used first."""
        with self._lock:
            newest = islice(reversed(self._entries.values()), MOST_LOOKED_AT)
            return list(islice((each.ahead for each in newest if each.used and each.ahead is not None), most))

    def make(self, tag: str, make: Callable[[], Content], size: int = 0, ahead: MakeAhead | None = None) -> Content:
        """Make the answer of this tag and keep it; `size` is what `ahead` holds, in bytes.

        Raises
        ------
        BeingMade
            Where another request is making it at the moment.
        """
        mine: Future[Content] = Future()
        with self._lock:
            other = self._making.setdefault(tag, mine)
        if other is not mine:
            raise BeingMade(tag, other)
        started = time.thread_time()
        try:
            made = make()
        except BaseException as failed:
            mine.set_exception(failed)
            raise
        else:
            quick = time.thread_time() - started <= QUICK_SECONDS
            self.keep(tag, made, len(made.body) + size, ahead if quick else None)
            mine.set_result(made)
            return made
        finally:
            with self._lock:
                del self._making[tag]

    def count(self, *, hit: bool) -> None:
        """Count one question that was answered from here, or was not."""
        with self._lock:
            self._hits += hit
            self._misses += not hit

    def tally(self) -> Tally:
        """How they stand."""
        with self._lock:
            return Tally(self._hits, self._misses, self._evicted, self._size, len(self._entries))

    def _find(self, key: Hashable) -> Content | Known | None:
        with self._lock:
            found = self._entries.get(key)
            if found is None:
                return None
            self._entries.move_to_end(key)
            found.used = True
            return found.what
