"""What follows from a release alone, or from a release and a part of a question, worked out once and kept in bounds."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from threading import Lock
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
    """Values that only one question at a time may use: taken out by key, and given back when it is answered.

    Where their weights come to more than the most, those given back longest ago are let go.
    """

    def __init__(self, most: int) -> None:
        self._most, self._weight = most, 0
        self._values: OrderedDict[Hashable, tuple[Weighed, int]] = OrderedDict()
        self._lock = Lock()

    def take(self, key: Hashable) -> Any:
        """The value of this key, which is then nobody else's; None where there is none or another has it."""
        with self._lock:
            value, weight = self._values.pop(key, (None, 0))
            self._weight -= weight
            return value

    def give(self, key: Hashable, value: Weighed) -> None:
        """Give a value back; another of its key, which somebody made meanwhile, is let go."""
        weight = value.weight
        with self._lock:
            _, before = self._values.pop(key, (None, 0))
            self._values[key] = (value, weight)
            self._weight += weight - before
            while self._weight > self._most:
                _, (_, gone) = self._values.popitem(last=False)
                self._weight -= gone
