"""The effects of a release in words: for the terminal, and for a migration's report. All sentences are made here."""

from collections.abc import Iterator
from typing import Final

from catalog.units import amount_text
from service.effects.causes import Cause
from service.effects.edits import Edit, FieldEdit
from service.effects.effects import Effect, Effects
from service.effects.outcome import Change, Outcome
from service.fit.build import Build, Described

SHOWN: Final = 10
"""Builds told one by one for one cause; the others are counted."""
_TOLD: Final = {
    "gained": "with an answer that had none",
    "lost": "without an answer that had one",
    "first_option": "with another first option",
    "price": "at another price",
    "verdict": "with another verdict",
}
_VERDICTS: Final = {
    "fits": "fits",
    "measure_first": "measure first",
    "blocked": "nothing fits",
    "refused": "names a part that is not in the release",
}


def report(effects: Effects, shown: int = SHOWN) -> str:
    """The whole report, lines of plain text with a newline at the end."""
    return "\n".join(_lines(effects, shown)) + "\n"


def edit_text(edit: Edit) -> str:
    """One edit: "part G-1 revised: price 4.00 USD, now 5.00 USD"."""
    title = f"{edit.subject} {edit.name} {edit.what}"
    fields = [_field_text(field) for field in edit.fields if edit.what != "retired" or field.field != "status"]
    return f"{title}: {'; '.join(fields)}" if fields else title


def build_text(build: Build) -> str:
    """A build by what it names: "ENG-R20, DR-541, FC-R5"."""
    names = []
    for field in build.__struct_fields__:
        value = getattr(build, field)
        if isinstance(value, Described):
            names.append(value.name)
        elif isinstance(value, str) and field != "pump_drive":
            names.append(value)
    if build.pump_drive == "remote":
        names.append("remote pump")
    return ", ".join(names)


def _lines(effects: Effects, shown: int) -> Iterator[str]:
    yield (
        f"From release {effects.before.number} ({effects.before.name}) to {effects.after.number} "
        f"({effects.after.name}): {_several(len(effects.edits), 'edit')}, "
        f"{_several(effects.builds, 'build')} compared, {len(effects.effects)} changed."
    )
    for change, count in effects.count().items():
        if count:
            yield f"  {count} {_TOLD[change]}"
    if effects.refused:
        yield f"  {effects.refused} refused by both releases, because they name what is not so"
    if effects.undecided:
        yield (f"  {effects.undecided} not searched to the end: what is said of them is not certain")
    reached_by: dict[tuple[tuple[Edit, ...], bool], list[tuple[Effect, Cause]]] = {}
    for effect in effects.effects:
        for cause in effect.causes:
            reached_by.setdefault((cause.edits, cause.least), []).append((effect, cause))
    for (edits, least), reached in reached_by.items():
        yield ""
        yield from _cause_lines(edits, least=least)
        for effect, cause in reached[:shown]:
            yield f"    {build_text(effect.build)}: {_effect_text(effect, cause)}"
        if len(reached) > shown:
            yield f"    and {_several(len(reached) - shown, 'more build')} by the same"


def _cause_lines(edits: tuple[Edit, ...], *, least: bool) -> Iterator[str]:
    if len(edits) == 1:
        yield f"By {edit_text(edits[0])}"
        return
    yield "By these together" if least else "By some of these (the search for the fewest was given up)"
    for edit in edits[:SHOWN]:
        yield f"  {edit_text(edit)}"
    if len(edits) > SHOWN:
        yield f"  and {_several(len(edits) - SHOWN, 'more edit')}"


def _effect_text(effect: Effect, cause: Cause) -> str:
    return "; ".join(_change_text(effect.before, effect.after, change) for change in cause.changes)


def _change_text(before: Outcome, after: Outcome, change: Change) -> str:
    match change:
        case "price":
            return f"{_price_text(before)}, now {_price_text(after)}"
        case "verdict":
            return f"{_VERDICTS[before.verdict]}, now {_VERDICTS[after.verdict]}"
        case _:
            old, new = _option_text(before), _option_text(after)
            return f"{old}, now {new}" if old != new else f"{old}: {_pieces_text(before, after)}"


def _option_text(outcome: Outcome) -> str:
    if not outcome.answered:
        return _VERDICTS[outcome.verdict]
    return " + ".join((*outcome.plates, outcome.pump))


def _pieces_text(before: Outcome, after: Outcome) -> str:
    """What else of the list is other: "without F-1, with F-2"."""
    old, new = set(before.parts), set(after.parts)
    gone = [f"{piece.quantity} {piece.part}" for piece in before.parts if piece not in new]
    come = [f"{piece.quantity} {piece.part}" for piece in after.parts if piece not in old]
    told = [f"without {', '.join(gone)}"] if gone else []
    return "; ".join([*told, f"with {', '.join(come)}"] if come else told) or "the list in another order"


def _price_text(outcome: Outcome) -> str:
    price = outcome.price
    return "no price" if price is None else f"{amount_text(price.amount, price.currency)} {price.currency}"


def _field_text(field: FieldEdit) -> str:
    name = field.field.replace("measures.", "measure ").replace("attributes.", "attribute ").replace("_", " ")
    name = name.replace("ports.", "port ").replace("cues.", "cue ")
    if not field.before and not field.after:
        return name
    return f"{name} {field.before or 'none'}, now {field.after or 'none'}"


def _several(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"
