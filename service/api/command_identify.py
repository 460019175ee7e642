"""`beltplane identify`: the question of `POST /v1/identifications`, asked in the terminal one question at a time."""

import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import click
import msgspec
from rich.console import Console

from catalog.domain import Kind
from catalog.releases import UnknownRelease, WithdrawnRelease
from service.api import render, table, wire_identify
from service.api.elsewhere import with_releases
from service.api.faults import InvalidRequest, checked, parse_json
from service.api.live import Live
from service.api.readings import parse_reading
from service.fit.build import BuildError
from service.fit.graph import ConstraintGraph
from service.identify.engine import identify
from service.identify.request import CANNOT_TELL, Identification
from service.identify.wording import percent, send_text

SHOWN: Final = 6
"""Candidates shown after each answer."""
ENOUGH_AGAINST: Final = 0.98
"""Where it is this probable that the catalog does not hold the part, no more is asked."""
_DONT_KNOW: Final = ("?", CANNOT_TELL)
_LETTERS: Final = "abcdefghijklmnopqrstuvwxyz"


@click.command("identify", short_help="Which part is this.")
@click.option("--kind", type=click.Choice(Kind.__args__), metavar="KIND", help="Such as water_pump or front_cover.")  # type: ignore[attr-defined]
@click.option("--number", metavar="NUMBER", help="A number cast, stamped or printed on it, as you read it.")
@click.option("--seen", metavar="CUE=ANSWER", multiple=True, help='Such as "outlet_side=left"; may be repeated.')
@click.option(
    "--measured",
    metavar="READING",
    multiple=True,
    help='Such as "belt_plane=5 3/4 in tape"; may be repeated. Lengths need a unit; the tool is a tape if left out.',
)
@click.option("--fits-on", metavar="PART", multiple=True, help="What it came off or must meet; may be repeated.")
@click.option("--years", metavar="YEARS", help='Model years of what it came off: "2008" or "2005-2010".')
@click.option(
    "--file",
    "file",
    type=click.Path(exists=True, dir_okay=False, allow_dash=True, path_type=Path),
    help="The identification as JSON, as POST /v1/identifications takes it; options add to it.",
)
@click.option(
    "--units", type=click.Choice(["mm", "in"]), default="in", help="Units of the sentences; a bare reading's."
)
@click.option("--release", metavar="RELEASE", help="A release by number or name; the newest where it is left out.")
@click.option("--json", "as_json", is_flag=True, help="Ask nothing; print the answer as the service gives it.")
@click.pass_obj
def identify_command(
    live: Live, /, file: Path | None, units: render.Units, release: str | None, as_json: bool, **options: Any
) -> None:
    """Which part is this? Asks what to look at and what to measure, until it knows.

    Answer with a letter or in words, a measure with a length ("5 3/4 in"), and with "?" what you cannot tell; an empty
    line ends it. --json asks nothing.

    \b
    beltplane identify --kind water_pump
    """  # noqa: D301  (click takes the backspace for a paragraph that is not to be wrapped)
    try:
        graph = live.graph(release)
        asked = checked(_raw(file, options), Identification)
        manner = render.Manner(units=units, detail="full", currency=graph.snapshot.currency)
        answer = _answer(graph, asked, manner)
    except InvalidRequest as invalid:
        raise _usage([f"{fault.pointer}: {fault.message}" for fault in invalid.faults]) from None
    except BuildError as error:
        raise _usage([_told(fault.message, fault.nearest) for fault in with_releases(live, error).faults]) from None
    except (UnknownRelease, WithdrawnRelease) as error:
        raise _usage([str(error)]) from None
    if as_json:
        click.echo(wire_identify.to_json(answer))
        return
    out = table.console()
    out.print(f"From release {answer.release.number} ({answer.release.name}). What you cannot tell is answered with ?.")
    _print_end(_converse(graph, answer, manner, out), out)


def _answer(graph: ConstraintGraph, asked: Identification, manner: render.Manner) -> wire_identify.IdentificationAnswer:
    return wire_identify.answer(identify(graph, asked), graph.snapshot.release, manner)


def _raw(file: Path | None, options: dict[str, Any]) -> dict[str, Any]:
    """The identification that file and options make, before it is checked."""
    given: Any = {} if file is None else parse_json(_read(file))
    if not isinstance(given, dict):
        raise click.UsageError("--file: must hold an object")
    given |= {name: options[name] for name in ("kind", "number") if options[name] is not None}
    _add(given, "fits_on", list(options["fits_on"]))
    _add(given, "seen", [_seen(text) for text in options["seen"]])
    _add(given, "measured", [_measured(text) for text in options["measured"]])
    if options["years"] is not None:
        given["years"] = _years(options["years"])
    return given


def _read(file: Path) -> bytes:
    return sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()


def _add(given: dict[str, Any], name: str, entries: list[Any]) -> None:
    if entries and isinstance(given.setdefault(name, []), list):
        given[name] = [*given[name], *entries]


def _seen(text: str) -> dict[str, str]:
    cue, equals, answer = text.partition("=")
    if not equals:
        raise click.BadParameter(f'"{text}" is not CUE=ANSWER', param_hint="--seen")
    return {"cue": cue.strip(), "answer": CANNOT_TELL if answer.strip() == "?" else answer.strip()}


def _measured(text: str) -> dict[str, Any]:
    try:
        # As in a build, where a reading starts with its part.
        reading = parse_reading(f"- {text}")
    except ValueError:
        hint = f'"{text}" is not a reading; write it as "measure=5 3/4 in tape"'
        raise click.BadParameter(hint, param_hint="--measured") from None
    return {name: value for name, value in reading.items() if name != "part"}


def _years(text: str) -> dict[str, int]:
    found = re.fullmatch(r"\s*(\d{4})(?:\s*-\s*(\d{4}))?\s*", text, re.ASCII)
    if found is None:
        raise click.BadParameter(f'"{text}" is neither a year nor two: "2008", "2005-2010"', param_hint="--years")
    return {"from": int(found[1]), "to": int(found[2] or found[1])}


def _converse(
    graph: ConstraintGraph, answer: wire_identify.IdentificationAnswer, manner: render.Manner, out: Console
) -> wire_identify.IdentificationAnswer:
    """Ask the first question again and again until the part is known or there is no more to ask."""
    while not _ended(answer):
        question = answer.next_questions[0]
        _print_question(question, out)
        said = _ask_until(lambda text, q=question: _as_evidence(q, text, manner.units), out)  # type: ignore[misc]
        if said is None:
            return answer
        asked = answer.identification
        if "kind" in said:
            asked = msgspec.structs.replace(asked, kind=said["kind"])
        else:
            raw = msgspec.to_builtins(asked)
            field, entry = next(iter(said.items()))
            _add(raw, field, [entry])
            asked = checked(raw, Identification)
        try:
            answer = _answer(graph, asked, manner)
        except BuildError as error:
            for fault in error.faults:
                out.print(_told(fault.message, fault.nearest))
            continue
        _print_standing(answer, out)
    return answer


def _ended(answer: wire_identify.IdentificationAnswer) -> bool:
    return (
        answer.verdict == "identified"
        or not answer.next_questions
        or answer.none_of_these.probability >= ENOUGH_AGAINST
    )


def _ask_until(read: Callable[[str], dict[str, Any]], out: Console) -> dict[str, Any] | None:
    """The first line that is an answer; None for an empty line or the end of what there is to read."""
    while True:
        try:
            text = click.prompt(">", prompt_suffix=" ", default="", show_default=False).strip()
        except click.Abort:
            return None
        if not text:
            return None
        try:
            return read(text)
        except ValueError as fault:
            out.print(str(fault))


def _as_evidence(question: wire_identify.NextQuestion, text: str, units: str) -> dict[str, Any]:
    """What a line says to a question, as one more entry of an identification.

    Raises
    ------
    ValueError
        With what to write instead.
    """
    cannot = text.casefold() in _DONT_KNOW
    if question.asks == "kind":
        if cannot:
            raise ValueError("Begin with what sort of part it is, or end with an empty line.")
        return {"kind": _choice(question.answers, text.replace(" ", "_"))}
    if cannot:
        return {"seen": {"cue": question.name, "answer": CANNOT_TELL}}
    if question.asks == "cue":
        return {"seen": {"cue": question.name, "answer": _choice(question.answers, text)}}
    value = text if re.search(r"(mm|cm|in|\")\s*$", text, re.IGNORECASE) else f"{text} {units}"
    entry = {"measure": question.name, "value": value, "taken_with": question.taken_with}
    try:
        checked({"measured": [entry]}, Identification)
    except InvalidRequest as invalid:
        raise ValueError(f"{invalid.faults[0].message[:1].upper()}{invalid.faults[0].message[1:]}.") from None
    return {"measured": entry}


def _choice(answers: list[str], text: str) -> str:
    """The answer that a letter or a beginning of it means; the words themselves come before a letter."""
    said = text.casefold()
    exact = [answer for answer in answers if answer.casefold() == said]
    if exact:
        return exact[0]
    if len(said) == 1 and said in _LETTERS[: len(answers)]:
        return answers[_LETTERS.index(said)]
    starting = [answer for answer in answers if answer.casefold().startswith(said)]
    if len(starting) == 1:
        return starting[0]
    raise ValueError("Answer with a letter, in the words shown, or with ?.")


def _print_question(question: wire_identify.NextQuestion, out: Console) -> None:
    out.print()
    out.print(question.question, style="bold")
    for letter, each in zip(_LETTERS, question.answers, strict=False):
        out.print(f"  {letter}) {each.replace('_', ' ')}")


def _print_standing(answer: wire_identify.IdentificationAnswer, out: Console) -> None:
    likely = [each for each in answer.candidates if each.part in answer.holds]
    left = len(answer.holds)
    none = percent(answer.none_of_these.probability)
    out.print(f"{left} of {answer.considered} left; {none} that it is none of them.", style="dim")
    for each in likely[:SHOWN] if left <= answer.considered // 2 or left <= SHOWN else ():
        out.print(f"  {each.text}", style="dim")


def _print_end(answer: wire_identify.IdentificationAnswer, out: Console) -> None:
    out.print()
    # What it would ask next is of no use where nobody answers any more.
    text = str(answer.text).partition(" Next: ")[0]
    out.print(text, style="green" if answer.verdict == "identified" else "yellow")
    if answer.verdict == "identified":
        for said in [*answer.candidates[0].speaks_for, *answer.candidates[0].speaks_against]:
            out.print(f"  {said.text}")
    elif "Photograph" not in text:
        out.print(send_text(answer.candidates[0].kind if answer.candidates else ""))
    for caution in answer.cautions:
        out.print(str(caution.text))


def _usage(messages: list[str]) -> click.UsageError:
    return click.UsageError("\n  ".join(messages) if len(messages) == 1 else "\n  " + "\n  ".join(messages))


def _told(message: str, nearest: tuple[str, ...]) -> str:
    return f"{message} Nearest: {', '.join(nearest)}." if nearest else message
