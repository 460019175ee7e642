"""Timing things against each other: turn by turn in one run, so that whatever slows the machine slows them alike."""

from collections.abc import Callable, Mapping
from statistics import median
from time import perf_counter, process_time
from typing import Any, Final

import msgspec

LEAST_ROUNDS: Final = 3
MOST_REPEATS: Final = 50
"""Calls of a quick thing in one round, while a slow one is called once."""


class Sample(msgspec.Struct, frozen=True):
    """How long something took, in milliseconds of wall-clock time, over so many calls."""

    median: float
    p99: float
    calls: int
    processor: float
    """Median of the processor's time, which other programs on the machine do not stretch."""

    @classmethod
    def of(cls, times: list[tuple[float, float]]) -> "Sample":
        """The sample of these wall-clock and processor times, in seconds."""
        walls = sorted(wall for wall, _ in times)
        last = walls[min(len(walls) - 1, len(walls) * 99 // 100)]
        return cls(median(walls) * 1e3, last * 1e3, len(walls), median(used for _, used in times) * 1e3)


def interleaved(calls: Mapping[str, Callable[[], Any]], seconds: float) -> dict[str, Sample]:
    """Call each in turn, round after round, for so long, three rounds at least; the first call of each is not counted.

    Quick ones are called several times a round, so that a slow one beside them does not leave them with few calls.
    """
    first = {name: timed(call)[0] for name, call in calls.items()}
    slowest = max(first.values())
    repeats = {name: max(1, min(MOST_REPEATS, int(0.2 * slowest / max(took, 1e-6)))) for name, took in first.items()}
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in calls}
    started, rounds = perf_counter(), 0
    while rounds < LEAST_ROUNDS or perf_counter() - started < seconds:
        rounds += 1
        for name, call in calls.items():
            times[name] += [timed(call) for _ in range(repeats[name])]
    return {name: Sample.of(found) for name, found in times.items()}


def timed(call: Callable[[], Any]) -> tuple[float, float]:
    """Seconds of one call, by the clock and of the processor."""
    wall, used = perf_counter(), process_time()
    call()
    return perf_counter() - wall, process_time() - used
