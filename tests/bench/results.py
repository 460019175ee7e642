"""What was measured: rows of ours beside a peer's, as a Markdown table and as JSON."""

import os
import platform
from collections.abc import Iterable
from typing import Literal

import msgspec

from tests.bench.timing import Sample


class Result(msgspec.Struct, frozen=True, omit_defaults=True):
    """One row: two samples, and what their ratio must be where that is laid down.

    Where there is a `unit` there is no peer: `ratio` is what was measured, in that unit.
    """

    what: str
    ours: Sample
    peer: Sample
    peer_name: str
    ratio: float
    """Of the medians: how many times faster than the peer; where `sense` is `at_most`, how many times slower."""
    sense: Literal["at_least", "at_most"] = "at_least"
    limit: float | None = None
    note: str = ""
    unit: str = ""

    @property
    def reached(self) -> bool | None:
        """Whether the ratio is what it must be; None where nothing is laid down."""
        if self.limit is None:
            return None
        return self.ratio >= self.limit if self.sense == "at_least" else self.ratio <= self.limit


def faster(
    what: str, ours: Sample, peer: Sample, peer_name: str, at_least: float | None = None, note: str = ""
) -> Result:
    """How many times faster than the peer."""
    return Result(what, ours, peer, peer_name, peer.median / ours.median, "at_least", at_least, note)


def slower(
    what: str, ours: Sample, peer: Sample, peer_name: str, at_most: float | None = None, note: str = ""
) -> Result:
    """How many times slower than the peer, or than ourselves on something smaller."""
    return Result(what, ours, peer, peer_name, ours.median / peer.median, "at_most", at_most, note)


def tail(what: str, ours: Sample, at_most: float) -> Result:
    """How far the 99th percentile is from the median."""
    return Result(what, ours, ours, "its own median", ours.p99 / ours.median, "at_most", at_most)


def measured(what: str, value: float, unit: str, at_most: float | None = None, note: str = "") -> Result:
    """Something that is no time and has no peer."""
    nothing = Sample(0, 0, 0, 0)
    return Result(what, nothing, nothing, "", value, "at_most", at_most, note, unit)


def markdown(results: Iterable[Result]) -> str:
    """The table; times are medians in milliseconds."""
    lines = [
        "| what | ours, ms | p99, ms | peer | its time, ms | ratio | must be | reached |",
        "| --- | ---: | ---: | --- | ---: | ---: | --- | --- |",
    ]
    for row in results:
        must = "" if row.limit is None else f"{row.sense.replace('_', ' ')} {row.limit:g} {row.unit}".rstrip()
        reached = {None: "", True: "yes", False: "no"}[row.reached]
        cells = (
            f"{row.what} ({row.note})" if row.note else row.what,
            *(("", "", "", "") if row.unit else _times(row)),
            f"{_short(row.ratio)} {row.unit}".rstrip(),
            must,
            reached,
        )
        lines.append(f"| {' | '.join(cells)} |")
    return "\n".join(lines) + "\n"


def as_json(results: Iterable[Result]) -> bytes:
    """The rows with all that was measured, and on what kind of machine."""
    machine = {"cores": os.cpu_count(), "processor": platform.machine(), "python": platform.python_version()}
    rows = [msgspec.to_builtins(row) | {"reached": row.reached} for row in results]
    return msgspec.json.format(msgspec.json.encode({"machine": machine, "rows": rows}), indent=2) + b"\n"


def _times(row: Result) -> tuple[str, str, str, str]:
    return _short(row.ours.median), _short(row.ours.p99), row.peer_name, _short(row.peer.median)


def _short(value: float) -> str:
    return f"{value:.3g}" if value < 1_000 else f"{value:,.0f}"
