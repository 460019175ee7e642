"""What explains a ranking, field for field as it is answered: readings to take, questions to ask, why it is first.

Present at `detail=full` only, but for `above_next`.
"""

from typing import Annotated, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Kind, TakenWith
from service.fit.answer import Code
from service.fit.either_way import BEYOND
from service.fit.expected import MOST_EXPECTED
from service.fit.open_questions import MOST_DISTANCES, MOST_LINES, MOST_TRIED
from service.fit.settle import MOST_LEFT_OPEN

Text = Annotated[str, Meta(description="One plain sentence, or two; absent at detail=brief.")]
Part = Annotated[str, Meta(description="Part number, or the name of a described part.")]
Rank = Annotated[int, Meta(ge=1, description="Rank of a listed option.")]
Chance = Annotated[float, Meta(ge=0, le=1)]


class Explaining(msgspec.Struct, frozen=True, kw_only=True):
    """Base of everything that explains."""


class ReadingToTake(Explaining, frozen=True, kw_only=True, rename={"from_": "from"}):
    """A reading worth taking."""

    part: Part
    measure: Annotated[str, Meta(description="The measure's name, as `measured` takes it.")]
    from_: Annotated[str, Meta(description="The face from which it is taken.")]
    to: Annotated[str, Meta(description="The face to which it is taken.")]
    taken_with: Annotated[TakenWith, Meta(description="The tool that reads it; its usual doubt is meant.")]
    expected_mm: (
        Annotated[float, Meta(description="The middle of what it can be so far, mm; absent where nothing is known.")]
        | UnsetType
    ) = UNSET
    doubt_mm: (
        Annotated[float, Meta(ge=0, description="Plus and minus around that, mm; absent likewise.")] | UnsetType
    ) = UNSET
    doubt_then_mm: Annotated[float, Meta(ge=0, description="Plus and minus once it is read, mm.")]
    text: Text


class LookAt(Explaining, frozen=True, kw_only=True):
    """What to look at or to count on a part, where no measure is lacking."""

    part: Part
    fact: Annotated[
        str,
        Meta(
            description="What is not known: an attribute (`rotation`), `bands`, or a port by its role (`ports.mount`)."
        ),
    ]
    text: Text


class Settle(Explaining, frozen=True, kw_only=True):
    """What would settle a check that must be measured first."""

    reason: Annotated[
        Literal["readings", "nothing_finer", "belt_length", "not_known"],
        Meta(
            description="Readings; nothing that a tool reads finer than is known; the length of a belt; `not_known`: "
            "what the check needs is not stated, so it must be read or looked at."
        ),
    ]
    readings: Annotated[
        list[ReadingToTake],
        Meta(
            description=f"The fewest that leave it open in at most {MOST_LEFT_OPEN:.0%} of cases, the widest doubt "
            "first; where none do, those that leave it open least. Where nothing is known, all that the check needs, "
            "what decides most first."
        ),
    ]
    look_at: (
        Annotated[list[LookAt], Meta(min_length=1, description="What to look at or to count, what decides most first.")]
        | UnsetType
    ) = UNSET
    leaves_open: (
        Annotated[
            float,
            Meta(
                ge=0,
                le=1,
                description="Chance that it is still open once they are taken: measures lie normally about the "
                "middle of their limits, as for `likelihood`, and readings about what they truly are.",
            ),
        ]
        | UnsetType
    ) = UNSET
    text: Text


class OutcomeReading(Explaining, frozen=True, kw_only=True):
    """A reading as it most likely comes out on one side."""

    part: Part
    measure: Annotated[str, Meta(description="The measure's name.")]
    value_mm: Annotated[float, Meta(description="Millimetres.")]
    taken_with: Annotated[TakenWith, Meta(description="With its usual doubt.")]


class Outcome(Explaining, frozen=True, kw_only=True):
    """What the answer would be if the readings came out like this: asked again with them in `measured`."""

    likelihood: Annotated[float, Meta(ge=0, le=1, description="How likely this side is.")]
    readings: Annotated[
        list[OutcomeReading],
        Meta(description=f"They put the check {BEYOND // 1000} µm inside its limit, or outside, doubt and all."),
    ]
    verdict: Annotated[Literal["fits", "measure_first", "blocked"], Meta(description="The verdict of the answer then.")]
    pump: Annotated[str, Meta(description="The pump of its first option; absent where there is none.")] | UnsetType = (
        UNSET
    )
    plates: Annotated[list[str], Meta(description="The plates of that option, from the block outward.")] | UnsetType = (
        UNSET
    )


class EitherWay(Explaining, frozen=True, kw_only=True):
    """The check that the first option hangs on most, and the answer on either side of it."""

    code: Annotated[Code, Meta(description="The check.")]
    zone: Annotated[str, Meta(description="Which of several of the kind.")] | UnsetType = UNSET
    holds: Annotated[Outcome, Meta(description="If it holds.")]
    fails: Annotated[Outcome, Meta(description="If it does not.")]
    text: Text


class Change(Explaining, frozen=True, kw_only=True):
    """What one value of a field left out would do to the listed options."""

    value: Annotated[str, Meta(description="A part number or a word; absent for a length.")] | UnsetType = UNSET
    less_than_mm: (
        Annotated[float, Meta(description="Of a length: what follows where it is less than this, mm.")] | UnsetType
    ) = UNSET
    falls_away: Annotated[list[Rank], Meta(description="The listed options that do not hold with it.")]
    measure_first: (
        Annotated[
            list[Rank], Meta(min_length=1, description="Of those that stay, the ones that must then be measured first.")
        ]
        | UnsetType
    ) = UNSET
    first: (
        Annotated[
            int,
            Meta(
                ge=1,
                description="The listed option that is first of those that stay; absent where none does. What new "
                "lines cost is not weighed for a radiator and a heater.",
            ),
        ]
        | UnsetType
    ) = UNSET


class OpenQuestion(Explaining, frozen=True, kw_only=True):
    """A field left out that would change the listed options."""

    asks: Annotated[str, Meta(description="The field of the build.")]
    changes: Annotated[
        list[Change],
        Meta(
            description=f"At most {MOST_TRIED} values: words first, then parts at hand, recommended ones, and by part "
            f"number. Of those that ask for new lines {MOST_LINES['radiator']} radiator, {MOST_LINES['heater']} "
            f"heaters, {MOST_LINES['fan']} fans; {MOST_DISTANCES} distances."
        ),
    ]
    untried: Annotated[int, Meta(ge=0, description="Further values that the catalog has.")]
    text: Text


class AboveNext(Explaining, frozen=True, kw_only=True):
    """Why an option stands above another."""

    key: Annotated[str, Meta(description="The first ranking key on which the two differ.")]
    this: (
        Annotated[
            bool | float | str,
            Meta(
                description="Its value here: a word, whether recommended, pieces, an amount in the catalog's currency; "
                "for `margin` the share of its limit. Absent where there is none, and for a length."
            ),
        ]
        | UnsetType
    ) = UNSET
    next: Annotated[bool | float | str, Meta(description="The same of the other.")] | UnsetType = UNSET
    difference: (
        Annotated[float, Meta(description="How much more the other has, never negative but for `margin`: less.")]
        | UnsetType
    ) = UNSET
    this_mm: Annotated[float, Meta(description="For `margin` and `length`: mm.")] | UnsetType = UNSET
    next_mm: Annotated[float, Meta(description="The same of the other, mm.")] | UnsetType = UNSET
    difference_mm: Annotated[float, Meta(description="The other's less this one's, mm.")] | UnsetType = UNSET
    this_check: (
        Annotated[str, Meta(description="For `margin` the code of the check with the least share to spare.")]
        | UnsetType
    ) = UNSET
    next_check: Annotated[str, Meta(description="The same of the other.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Expected(Explaining, frozen=True, kw_only=True):
    """A part that one would have expected in the first option, and where it is instead."""

    part: Part
    why: Annotated[
        Literal["recommended", "at_hand"],
        Meta(description="The shop recommends this pump and not the first option's; or it is at hand."),
    ]
    where: Annotated[
        Literal["listed", "fits", "ruled_out", "not_used", "not_asked", "another_named"],
        Meta(
            description="`listed`: in another option. `fits`: an option that is not listed has it. `ruled_out`: none "
            "has, for the reason told. `not_used`: no option needs it. `not_asked`: the build leaves out the "
            "field in which it would be named. `another_named`: that field names another."
        ),
    ]
    kind: Annotated[Kind, Meta(description="Its kind.")]
    rank: Annotated[int, Meta(ge=1, description="Of the best listed option with it.")] | UnsetType = UNSET
    above: Annotated[AboveNext, Meta(description="Why the first stands above that.")] | UnsetType = UNSET
    code: Annotated[Code, Meta(description="The check that its nearest miss fails.")] | UnsetType = UNSET
    reason: (
        Annotated[
            str,
            Meta(
                description="Why a pump was not looked at: `unwanted`, `retired`, `another_named`, `other_drive`, "
                "`other_face`; or the field in which the build would name the part."
            ),
        ]
        | UnsetType
    ) = UNSET
    text: Text


Questions = Annotated[
    list[OpenQuestion], Meta(description="Fields left out that would change the listed options, most decisive first.")
]
ExpectedFirst = Annotated[
    list[Expected],
    Meta(max_length=MOST_EXPECTED, description="Parts that one would have expected in the first option."),
]
