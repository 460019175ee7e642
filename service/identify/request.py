"""An identification as it is sent: what the asker has seen, read and measured. Every limit is in the types."""

from typing import Annotated, Final, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Kind, TakenWith
from service.fit.build import BuildError, Length, MeasureName, PartNumber

CANNOT_TELL: Final = "cannot tell"
FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2100
Year = Annotated[int, Meta(ge=FIRST_YEAR, le=LAST_YEAR)]


class Seen(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The answer to one question of the catalog."""

    cue: Annotated[
        str,
        Meta(
            pattern=r"^[a-z][a-z0-9_.]{0,79}$",
            description="A cue by its name; with `cannot tell` also a measure that cannot be taken.",
        ),
    ]
    answer: Annotated[
        str,
        Meta(
            min_length=1,
            max_length=80,
            description=f"One of the cue's answers, in any case, or `{CANNOT_TELL}`, which says nothing.",
        ),
    ]


class Taken(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """A reading of the part, its instrument, and its doubt where it is not the instrument's usual one."""

    measure: MeasureName
    value: Length
    taken_with: TakenWith = "tape"
    plus_minus: Length | UnsetType = UNSET


class Years(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True, rename={"from_": "from"}):
    """Model years of what it came off; either end may be left out."""

    from_: Year | UnsetType = UNSET
    to: Year | UnsetType = UNSET


class Identification(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """What is known of the part. All of it may be left out: the answer then says what to look at first."""

    kind: (
        Annotated[Kind, Meta(description="What sort of part it is; left out where that is not known.")] | UnsetType
    ) = UNSET
    number: (
        Annotated[
            str,
            Meta(
                pattern=r"^[A-Za-z0-9][A-Za-z0-9._ -]{0,39}$",
                description="A number cast, stamped or printed on it, as it is read.",
            ),
        ]
        | UnsetType
    ) = UNSET
    seen: Annotated[list[Seen], Meta(max_length=40, description="One answer a cue.")] = []
    measured: Annotated[list[Taken], Meta(max_length=20, description="One reading a measure.")] = []
    fits_on: Annotated[
        list[PartNumber],
        Meta(max_length=10, description="Engines or parts that it came off or must meet, directly or through plates."),
    ] = []
    years: Years | UnsetType = UNSET
    prior: Annotated[
        Literal["catalog", "even"],
        Meta(description="`catalog` counts how common the catalog says each part is, `even` does not."),
    ] = "catalog"
    limit: Annotated[int, Meta(ge=1, le=50, description="Candidates told.")] = 10
    questions: Annotated[int, Meta(ge=0, le=20, description="Next questions told.")] = 5


class EvidenceError(BuildError):
    """An identification names what is not so; `faults` lists every such place."""

    slug = "faulty-evidence"
