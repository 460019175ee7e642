"""What a comparison takes and answers, field for field."""

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from service.api.wire import Money, Option, ReleaseName, Replaced, Text, Wire
from service.api.wire_told import AllNotKnown, Cautions, NotChecked, Notes, NotKnownTotal
from service.fit.build import Build
from service.fit.change import Change
from service.fit.compare import MOST_CHANGES

MOST_PUMPS = 100
"""Pumps that appeared or went listed by number; the totals count them all."""


class BuildWithChanges(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One build and what to change about it."""

    build: Annotated[Build, Meta(description="As `POST /v1/fits` takes it.")]
    changes: Annotated[
        list[Change],
        Meta(
            min_length=1,
            max_length=MOST_CHANGES,
            description="Each is made to the build itself, not to the change before it.",
        ),
    ]


class Outcome(Wire, frozen=True, kw_only=True):
    """The answer to a build in short: its verdict and its best option."""

    build: Annotated[Build, Meta(description="The build as understood, in one canonical form; `/v1/fits` takes it.")]
    verdict: Annotated[
        Literal["fits", "measure_first", "blocked"],
        Meta(description="`fits`: an option is ok. `measure_first`: only after a reading. `blocked`: none."),
    ]
    text: Text | UnsetType = UNSET
    not_checked: NotChecked
    not_known: AllNotKnown
    not_known_total: NotKnownTotal
    cautions: Cautions
    notes: Notes
    replaced: Annotated[list[Replaced], Meta(description="Retired parts that the build names.")]
    best: (
        Annotated[Option, Meta(description="The best option whole, but for `above_next`; absent where none is.")]
        | UnsetType
    ) = UNSET
    pumps_that_fit: Annotated[int, Meta(ge=0, description="Pumps with an option.")]
    decided: Annotated[bool, Meta(description="False where the search reached its step limit.")]


class PumpName(Wire, frozen=True, kw_only=True):
    """A pump by number and name."""

    pump: Annotated[str, Meta(description="Part number, or the name of a described pump.")]
    name: Annotated[str, Meta(description="What the catalog calls it.")]


class Changed(Outcome, frozen=True, kw_only=True):
    """The outcome with one change made, and what differs from the build's own.

    What its `not_known`, `cautions` and `notes` say in words stands once, at the top of the comparison.
    """

    name: Annotated[str, Meta(description="What the asker calls the change.")] | UnsetType = UNSET
    appeared: (
        Annotated[
            list[PumpName],
            Meta(description=f"Pumps that fit only with the change, at most {MOST_PUMPS}; absent where not decided."),
        ]
        | UnsetType
    ) = UNSET
    appeared_total: Annotated[int, Meta(ge=0, description="All such pumps.")] | UnsetType = UNSET
    went: (
        Annotated[
            list[PumpName],
            Meta(description=f"Pumps that fit only without it, at most {MOST_PUMPS}; absent where not decided."),
        ]
        | UnsetType
    ) = UNSET
    went_total: Annotated[int, Meta(ge=0, description="All such pumps.")] | UnsetType = UNSET
    price_difference: (
        Annotated[
            Money,
            Meta(
                description="What its best option costs more than the build's own best, negative where it costs less; "
                "absent where either has no price or there is none."
            ),
        ]
        | UnsetType
    ) = UNSET


class Comparison(Outcome, frozen=True, kw_only=True):
    """The outcome of the build itself, and that of each change in the order in which they were sent.

    Its `not_known`, `cautions` and `notes` are those of the build and of every change, each once and in words;
    `not_checked` is of the build itself.
    """

    release: Annotated[ReleaseName, Meta(description="The release that all of it follows from.")]
    changes: Annotated[list[Changed], Meta(description="One for each change, in their order.")]
