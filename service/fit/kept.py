"""What follows from a release alone, or from a release and a part of a question, worked out once and kept in bounds."""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Iterator
from contextlib import contextmanager
from threading import Condition, Lock, get_ident
from typing import Any, Generic, Protocol, TypeVar, cast


class Weighed(Protocol):
    """What can be kept."""

    @property
    def weight(self) -> int:
        """Roughly how many bytes it takes."""


Value = TypeVar("Value", bound=Weighed)
T = TypeVar("T")
Made = TypeVar("Made")


class Kept:
    """Values by key; where their weights come to more than the most, those not asked for longest are let go."""

    def __init__(self, most: int) -> None:
        self._most, self._weight = most, 0
        self._values: OrderedDict[Hashable, tuple[Weighed, int]] = OrderedDict()
        self._lock = Lock()

    def __len__(self) -> int:
        return len(self._values)

    def values(self) -> list[Weighed]:
        """What is kept, the longest unused first."""
        with self._lock:
            return [value for value, _ in self._values.values()]

    def get(self, key: Hashable, make: Callable[[], Value]) -> Value:
        """The value of this key, made where it is not kept. Two threads may make the same value, never another."""
        with self._lock:
            known = self._values.get(key)
            if known is not None:
                self._values.move_to_end(key)
                return cast(Value, known[0])
        value = make()
        weight = value.weight
        with self._lock:
            if key not in self._values:
                self._values[key] = (value, weight)
                self._weight += weight
            while self._weight > self._most and len(self._values) > 1:
                _, (_, gone) = self._values.popitem(last=False)
                self._weight -= gone
        return value


class Derived(Generic[T]):
    """What follows from one thing alone, worked out when it is first asked for, and let go with it.

    It is no part of what bears it: two that differ in nothing else are equal.
    """

    __slots__ = ("_values", "of")

    def __init__(self, of: T) -> None:
        self.of = of
        """The thing."""
        self._values: dict[Hashable, Any] = {}

    def get(self, key: Hashable, make: Callable[[T], Made]) -> Made:
        """The value of this key, made of the thing. Two threads may make the same value, never another."""
        if key not in self._values:
            self._values[key] = make(self.of)
        return cast(Made, self._values[key])

    def __eq__(self, other: object) -> bool:
        return other is None or isinstance(other, Derived)

    def __hash__(self) -> int:
        return 0

    def __repr__(self) -> str:
        return "Derived"


class Lent:
    """Values that only one question at a time may use: lent out by key, and given back when it is answered.

    Where their weights come to more than the most, those given back longest ago are let go.
    """

    def __init__(self, most: int) -> None:
        self._most, self._weight = most, 0
        self._values: OrderedDict[Hashable, tuple[Weighed, int]] = OrderedDict()
        self._back = Condition()
        """Guards all of this, and tells when a key is nobody's again."""
        self._borrowers: dict[Hashable, int] = {}
        """The thread that has a key."""
        self._awaited: dict[int, Hashable] = {}
        """The key that a thread waits for."""

    @contextmanager
    def lend(self, key: Hashable) -> Iterator[Any]:
        """The value of this key, nobody else's until the block ends; None where there is none.

        While another thread has it this one waits: making the same once more takes longer than until it is back. But
        where that one waits for what this one has, and where this one has the key already, nothing is lent.
        """
        mine = get_ident()
        with self._back:
            while self._is_lent(key) and not self._comes_back_to(mine, key):
                self._awaited[mine] = key
                self._back.wait()
                del self._awaited[mine]
            borrowed = not self._is_lent(key)
            if borrowed:
                self._borrowers[key] = mine
            value, weight = self._values.pop(key, (None, 0)) if borrowed else (None, 0)
            self._weight -= weight
        try:
            yield value
        finally:
            if borrowed:
                with self._back:
                    del self._borrowers[key]
                    self._back.notify_all()

    def _is_lent(self, key: Hashable) -> bool:
        return key in self._borrowers

    def _comes_back_to(self, thread: int, key: Hashable) -> bool:
        """Whether the key can only come back when this thread gives back something, so that it must not wait for it."""
        borrower = self._borrowers[key]
        while borrower != thread and borrower in self._awaited:
            borrower = self._borrowers.get(self._awaited[borrower], -1)
        return borrower == thread

    def give(self, key: Hashable, value: Weighed) -> None:
        """Give a value back; another of its key, which somebody made meanwhile, is let go."""
        weight = value.weight
        with self._back:
            _, before = self._values.pop(key, (None, 0))
            self._values[key] = (value, weight)
            self._weight += weight - before
            while self._weight > self._most:
                _, (_, gone) = self._values.popitem(last=False)
                self._weight -= gone
