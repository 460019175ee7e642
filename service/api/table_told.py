"""What an answer tells once, for people: what is not known before the options, cautions and notes after them."""

from collections.abc import Sequence

from msgspec import UNSET
from rich.console import Console

from service.api import wire
from service.api.table_explain import Line, head
from service.api.wire_told import Caution, Note


def print_not_known(answer: wire.Answer, line: Line, out: Console) -> None:
    """What must be read before anything can be said to fit."""
    if answer.not_known:
        head("Not known, what decides most first", out)
        for lack in answer.not_known:
            line(lack.part, lack.text or "", out)
        more = answer.not_known_total - len(answer.not_known)
        if more:
            out.print(f"{more} more are not known.")


def print_told(answer: wire.Answer, line: Line, out: Console) -> None:
    """Every caution and every note in words, once."""
    for title, told in (("Cautions", answer.cautions), ("Notes", answer.notes)):
        entries: Sequence[Caution | Note] = told
        if entries:
            head(title, out)
        for entry in entries:
            parts = "" if entry.parts is UNSET else f" ({', '.join(entry.parts)})"
            line(_words(entry.code), f"{entry.text or ''}{parts}", out)


def print_codes(option: wire.Option, line: Line, out: Console) -> None:
    """The cautions that an option's own parts call for, and its notes, by code: their words stand below, once."""
    cautions = [_words(caution.code) for caution in option.cautions if caution.parts is not UNSET]
    notes = [f"{_words(note.code)}{'' if note.count is UNSET else f' ({note.count})'}" for note in option.notes]
    for label, codes in (("cautions", cautions), ("notes", notes)):
        if codes:
            line(label, f"{', '.join(codes)}: see below", out)


def _words(code: str) -> str:
    return code.replace("_", " ")
