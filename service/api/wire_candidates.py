"""What a build answers for all candidates of an identification, on the wire, and its rendering."""

from typing import Annotated, Literal

from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Release
from service.api import render, render_told, wire_identify
from service.api.wire import ReleaseName, Text, Wire
from service.api.wire_told import AllNotKnown, Cautions, NotChecked, Notes, NotKnownTotal
from service.identify import builds, wording


class Quantity(Wire, frozen=True, kw_only=True):
    """So many pieces of a part."""

    part: Annotated[str, Meta(description="Its number.")]
    quantity: Annotated[int, Meta(ge=1, description="Pieces.")]


class Depends(Wire, frozen=True, kw_only=True):
    """What the parts list holds besides, if it is this candidate."""

    candidate: Annotated[str, Meta(description="The candidate.")]
    parts: Annotated[list[Quantity], Meta(description="Its further parts.")]


class SharedOption(Wire, frozen=True, kw_only=True):
    """One way that holds whichever of the candidates it is."""

    pump: Annotated[str, Meta(description="Where the candidates are no pumps themselves.")] | UnsetType = UNSET
    plates: Annotated[list[str], Meta(description="From the block outward, one entry a layer.")]
    verdict: Annotated[Literal["ok", "measure_first"], Meta(description="The worst of them.")]
    parts: Annotated[list[Quantity], Meta(description="In every parts list, the candidates themselves left out.")]
    depends: Annotated[
        list[Depends], Meta(description="What depends on which candidate it is; empty where nothing does.")
    ]
    text: Text | UnsetType = UNSET


class CandidateFit(Wire, frozen=True, kw_only=True):
    """What fits if it is this part."""

    part: Annotated[str, Meta(description="The candidate.")]
    probability: Annotated[float, Meta(ge=0, le=1, description="As in the identification.")]
    verdict: Annotated[
        Literal["fits", "measure_first", "blocked"], Meta(description="That of the build with it, at hand.")
    ]
    ways: Annotated[int, Meta(ge=0, description="Options that it has.")]


class CandidatesAnswer(Wire, frozen=True, kw_only=True):
    """What fits whichever of the candidates it is, and which question decides."""

    release: Annotated[ReleaseName, Meta(description="The release answered from.")]
    field: Annotated[str, Meta(description="The field of the build whose place the candidates take.")]
    verdict: Annotated[
        Literal["holds", "depends", "blocked", "ask_first"],
        Meta(
            description="`holds`: some option serves all candidates. `depends`: what fits differs. `blocked`: nothing "
            "fits any of them. `ask_first`: too many are left."
        ),
    ]
    text: Text | UnsetType = UNSET
    not_checked: NotChecked
    not_known: AllNotKnown
    not_known_total: NotKnownTotal
    cautions: Cautions
    notes: Notes
    candidates: Annotated[list[CandidateFit], Meta(description="The likeliest first.")]
    holds_for_all: Annotated[list[SharedOption], Meta(description="In the order of the likeliest candidate.")]
    decides: (
        Annotated[
            wire_identify.NextQuestion,
            Meta(description="The question that best tells apart the candidates for which the answer differs."),
        ]
        | UnsetType
    ) = UNSET
    identification: Annotated[wire_identify.IdentificationAnswer, Meta(description="The identification itself.")]


def answer(given: builds.CandidatesFit, release: Release, manner: render.Manner) -> CandidatesAnswer:
    """The answer on the wire."""
    return CandidatesAnswer(
        release=render.release_name(release),
        field=given.field,
        verdict=given.verdict,
        text=wording.candidates_text(given) if manner.full else UNSET,
        **render_told.told(given.told, manner.units, full=manner.full),
        candidates=[
            CandidateFit(
                part=each.part,
                probability=round(each.probability, 4),
                verdict=each.verdict,
                ways=len(each.options),
            )
            for each in given.candidates
        ],
        holds_for_all=[_shared(option, manner) for option in given.holds_for_all],
        decides=UNSET if given.decides is None else wire_identify.question_on_the_wire(given.decides, manner),
        identification=wire_identify.answer(given.identification, release, manner),
    )


def _shared(option: builds.SharedOption, manner: render.Manner) -> SharedOption:
    return SharedOption(
        pump=option.pump or UNSET,
        plates=list(option.plates),
        verdict=option.verdict,
        parts=_quantities(option.parts),
        depends=[Depends(candidate=part, parts=_quantities(parts)) for part, parts in option.depends],
        text=wording.shared_text(option) if manner.full else UNSET,
    )


def _quantities(parts: builds.Parts) -> list[Quantity]:
    return [Quantity(part=part, quantity=quantity) for part, quantity in parts]
