"""What stands once at the top of an answer, field for field: not checked, not known, cautions and notes."""

from typing import Annotated

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import TakenWith
from service.fit.answer import Code
from service.fit.told_once import MOST_CALLING, MOST_NOT_KNOWN

Text = Annotated[str, Meta(description="One plain sentence, or two; absent at detail=brief.")]
Calling = Annotated[
    list[str],
    Meta(
        max_length=MOST_CALLING,
        description=f"Numbers of the parts that call for it, {MOST_CALLING} at most; absent where every option does.",
    ),
]


class Saying(msgspec.Struct, frozen=True, kw_only=True):
    """Base of what is told once."""


class Caution(Saying, frozen=True, kw_only=True):
    """A danger. Its sentence stands once, at the top of the answer; an option bears the code alone."""

    code: Annotated[str, Meta(description="A stable code.")]
    parts: Calling | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class Note(Saying, frozen=True, kw_only=True):
    """What is no danger, but to be bought, looked up or seen to. Its sentence stands once, at the top of the answer."""

    code: Annotated[
        str,
        Meta(
            description="A stable code: `clamps`, `hose_lengths`, `sealant`, `sender`; or `nobody_states`, at the top "
            "alone: a check that is not asked, as no part of that kind in the release states what it takes."
        ),
    ]
    parts: Calling | UnsetType = UNSET
    count: (
        Annotated[int, Meta(ge=1, description="Pieces; at the top the most that one of the options wants.")] | UnsetType
    ) = UNSET
    check: Annotated[Code, Meta(description="Of `nobody_states`: the check.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


class LeftOpen(Saying, frozen=True, kw_only=True):
    """A check that a lacking fact leaves open."""

    code: Annotated[Code, Meta(description="The check.")]
    zone: Annotated[str, Meta(description="Which of several of the kind: a cover's zone, a group of bolts.")] | (
        UnsetType
    ) = UNSET


class ToRead(Saying, frozen=True, kw_only=True, rename={"from_": "from"}):
    """The reading that decides: give it back in `measured`, or in the description of the part."""

    measure: Annotated[str, Meta(description="The measure's name.")]
    from_: Annotated[str, Meta(description="The face from which it is taken.")]
    to: Annotated[str, Meta(description="The face to which it is taken.")]
    taken_with: Annotated[TakenWith, Meta(description="The tool that reads it.")]


class NotKnown(Saying, frozen=True, kw_only=True):
    """A fact that is lacking though the build names the part, or an option brings it."""

    field: (
        Annotated[str, Meta(description="The build's field that names the part; absent where an option brings it.")]
        | UnsetType
    ) = UNSET
    part: Annotated[str, Meta(description="Its number, or the name of a described part.")]
    fact: Annotated[
        str,
        Meta(
            description="A measure (`cover_room.sensor`), an attribute (`rotation`), `bands`, or a port by its role "
            "(`ports.mount`). Of a port its `side`, `direction` or `port_size`, where a part has several with the port "
            "behind a dot: `upper`, `lower`, `outlet`, `inlet`, `heater_feed`, `heater_return`."
        ),
    ]
    leaves_open: Annotated[list[LeftOpen], Meta(description="The checks that cannot be made without it.")]
    options: Annotated[
        int, Meta(ge=1, description="So many options, pumps ruled out, or parts asked for, have such a check.")
    ]
    reading: Annotated[ToRead, Meta(description="Absent where it is no measure.")] | UnsetType = UNSET
    text: Text | UnsetType = UNSET


NotChecked = Annotated[
    list[str],
    Meta(
        description="Fields of the build left out, which so ask nothing; fields given by a word or a size that leaves "
        "something open (`electric`, a port without its side); and those that name a radiator or a heater whose "
        "ports are not known."
    ),
]
AllNotKnown = Annotated[
    list[NotKnown],
    Meta(
        max_length=MOST_NOT_KNOWN,
        description="What is not known of parts that are named, or that an option brings: it must be read before "
        "anything can be said to fit. What touches most options first, then what leaves most checks open; "
        f"at most {MOST_NOT_KNOWN}.",
    ),
]
NotKnownTotal = Annotated[int, Meta(ge=0, description="All such facts.")]
Cautions = Annotated[
    list[Caution], Meta(description="Dangers, the most serious first, each once, whatever options it goes with.")
]
Notes = Annotated[
    list[Note],
    Meta(description="What is to be bought besides, looked up or seen to at the bench, and what nobody states; once."),
]
