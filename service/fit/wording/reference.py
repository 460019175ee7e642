"""The reference of every code that an answer bears, as data and as Markdown.

Each example sentence is made by the wording module itself, so the page promises no other words than an answer has.
After a change that is meant, write the committed page anew with `python -m service.fit.wording.reference`.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from service.fit.answer import AboveNext, Check, ListedPart, Offer
from service.fit.told import Caution, Note
from service.fit.wording import reference_circuits, reference_options, reference_rules, reference_stack, reference_told
from service.fit.wording.checks import check_text
from service.fit.wording.entries import Entry, Section
from service.fit.wording.options import above_next_text, offer_text, why_text
from service.fit.wording.told_once import caution_text, note_text
from service.fit.wording.words import Units

PAGE: Final = Path(__file__).parent / "REASONS.md"
TITLE: Final = "Reasons"
ABOUT: Final = (
    "Every code that an answer bears: a heading, what it means, the field or the fact that it hangs on, and a sentence "
    "as an answer says it. Codes stay as they are; sentences may be worded better.",
    "A check that is `not_asked` rests on a field that the build leaves out or on a fact that nobody states: it is "
    "not a no. What this release does not hold at all is told by the problem `/problems/unknown-part`, which names "
    "the releases that do.",
    "Names and numbers of the examples are invented.",
)
SECTIONS: Final[tuple[Section, ...]] = (
    *reference_stack.SECTIONS,
    *reference_circuits.SECTIONS,
    *reference_rules.SECTIONS,
    *reference_told.SECTIONS,
    *reference_options.SECTIONS,
)


def sentence(example: Any, units: Units = "mm") -> str:
    """The sentence that tells an example."""
    match example:
        case Check():
            return check_text(example, units)
        case Caution():
            return caution_text(example, units)
        case Note():
            return note_text(example)
        case ListedPart():
            return why_text(example, units)
        case Offer():
            return offer_text(example)
        case AboveNext():
            return above_next_text(example, units, "USD")
    raise TypeError(f"no sentence tells a {type(example).__name__}")


def facts_of(entry: Entry) -> Iterator[tuple[str, str]]:
    """What is told of an entry below its heading: a label and a text."""
    checks = list(dict.fromkeys(one.code for one in entry.examples if isinstance(one, Check)))
    verdicts = list(dict.fromkeys(one.verdict for one in entry.examples if isinstance(one, Check)))
    yield "code", f"`{entry.code}`"
    if checks:
        yield "check", ", ".join(f"`{code}`" for code in checks)
        yield "verdict", ", ".join(f"`{verdict}`" for verdict in verdicts)
    yield "hangs on", entry.hangs_on
    yield "for example", sentence(entry.examples[0])


def markdown() -> str:
    """The reference as Markdown."""
    lines = [f"# {TITLE}", *(f"\n{paragraph}" for paragraph in ABOUT)]
    for section in SECTIONS:
        lines += [f"\n## {section.title}", f"\n{section.about}"]
        for entry in section.entries:
            lines += [f"\n### {entry.heading}", f"\n{entry.meaning}\n"]
            lines += [f"- {label}: {text}" for label, text in facts_of(entry)]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    PAGE.write_text(markdown(), encoding="utf-8")
