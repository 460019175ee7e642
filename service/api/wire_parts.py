"""Which parts suit a build: what is asked and what is answered, field for field."""

from typing import Annotated

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Kind
from service.api.wire import Challenged, ReleaseName, Text, Wire
from service.api.wire_told import AllNotKnown, Cautions, NotChecked, Notes, NotKnownTotal
from service.fit.build import Build, PartNumber
from service.fit.which import MOST_PARTS, Suits

Verdict = Annotated[
    Suits,
    Meta(
        description="`fits`: an option holds it, and no pump, plate or pulley besides, by all that the build gives: "
        "`not_checked` says what it leaves out. `fits_with`: an option holds it, with the pump, plates or pulley "
        "named. `measure_first`: only once something is measured. `no`: no option that keeps the build's requirements "
        "holds it. `not_concerned`: the build asks nothing that such a part could answer."
    ),
]


class BuildWithParts(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A build, and the parts to hold against it."""

    build: Annotated[Build, Meta(description="As `POST /v1/fits` takes it.")]
    parts: Annotated[
        Annotated[list[PartNumber], Meta(min_length=1, max_length=MOST_PARTS)] | Annotated[str, Meta(pattern="^all$")],
        Meta(description='Part numbers or aliases, answered in their order; or `"all"`, in order of part number.'),
    ]


class PartSuits(Wire, frozen=True, kw_only=True, rename={"with_": "with"}):
    """Whether one part suits the build."""

    part: Annotated[str, Meta(description="Part number.")]
    kind: Annotated[Kind, Meta(description="What sort of part it is.")]
    suits: Verdict
    with_: (
        Annotated[
            list[str],
            Meta(description="Numbers of the pump, plates and pulley of the best option with it, one entry a piece."),
        ]
        | UnsetType
    ) = UNSET
    code: (
        Annotated[
            str,
            Meta(
                description="Why not, or what to measure: the code of a check as in an answer of `/v1/fits`, or "
                "`retired`, `unwanted`, `nothing_fits`, `other_face`, `not_used`, `other_drive`, `another_named`, "
                "`of_the_car`, `not_asked`."
            ),
        ]
        | UnsetType
    ) = UNSET
    text: Text | UnsetType = UNSET


class KindCount(Wire, frozen=True, kw_only=True):
    """How many parts of a kind suit the build."""

    kind: Annotated[Kind, Meta(description="What sort of part they are.")]
    fits: Annotated[int, Meta(ge=0, description="Parts that fit as they are.")]
    fits_with: Annotated[int, Meta(ge=0, description="Parts that fit with others.")]
    measure_first: Annotated[int, Meta(ge=0, description="Parts that may fit once something is measured.")]
    no: Annotated[int, Meta(ge=0, description="Parts that no option holds.")]
    not_concerned: Annotated[int, Meta(ge=0, description="Parts that the build asks nothing of.")]


class CodeCount(Wire, frozen=True, kw_only=True):
    """How many parts have this code."""

    code: Annotated[str, Meta(description="As a part's line has it.")]
    parts: Annotated[int, Meta(ge=1, description="Parts that have it.")]


class PartsSuit(Wire, frozen=True, kw_only=True):
    """Which of the parts suit the build, with counts for facets."""

    release: Annotated[ReleaseName, Meta(description="The release that the answer follows from.")]
    build: Annotated[Build, Meta(description="The build as understood, in one canonical form; `/v1/fits` takes it.")]
    text: Text | UnsetType = UNSET
    challenged: Annotated[list[Challenged], Meta(description="Readings that contradict the parts they are of.")]
    not_checked: NotChecked
    not_known: AllNotKnown
    not_known_total: NotKnownTotal
    cautions: Cautions
    notes: Notes
    parts: Annotated[list[PartSuits], Meta(description="One entry a part that was asked for, in that order.")]
    kinds: Annotated[list[KindCount], Meta(description="By kind of part, in order of kind.")]
    codes: Annotated[list[CodeCount], Meta(description="By code, in order of code.")]
    decided: Annotated[
        bool, Meta(description="False where the search reached its step limit, so that `no` may be wrong.")
    ]
