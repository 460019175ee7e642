"""Not in this release is not the same as in none: what other releases hold a part that the one asked does not."""

from collections.abc import Iterator, Sequence
from typing import Final

import msgspec

from service.api.live import Live
from service.fit.build import BuildError, Fault

MOST_RELEASES: Final = 100
"""Releases listed for one part, the newest of them."""


def with_releases(live: Live, error: BuildError) -> BuildError:
    """The faults of a build, each unknown part with the releases that do hold it."""
    asked = [fault.asked for fault in error.faults if fault.asked]
    held = live.releases_holding(asked) if asked else {}
    return type(error)([_told(fault, held.get(fault.asked.casefold(), [])) for fault in error.faults])


def found_in(releases: Sequence[int]) -> str:
    """A sentence that says which releases hold a part, with a space before it; empty where none does."""
    if not releases:
        return ""
    spans = list(_spans(releases))
    said = spans[0] if len(spans) == 1 else f"{', '.join(spans[:-1])} and {spans[-1]}"
    return f" It is in release{'s' if len(releases) > 1 else ''} {said}."


def _told(fault: Fault, releases: list[int]) -> Fault:
    message = fault.message + found_in(releases)
    return msgspec.structs.replace(fault, message=message, releases=tuple(releases[-MOST_RELEASES:]))


def _spans(releases: Sequence[int]) -> Iterator[str]:
    """Numbers in a row as "3 to 7"."""
    start = last = releases[0]
    for number in [*releases[1:], None]:
        if number == last + 1:
            last = number
            continue
        yield f"{start}" if start == last else f"{start} and {last}" if last == start + 1 else f"{start} to {last}"
        if number is not None:
            start = last = number
