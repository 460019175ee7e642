"""What explains an answer, for people to read: what clashes and what would help, what to measure and to tell."""

from collections.abc import Callable

from msgspec import UNSET
from rich.console import Console
from rich.text import Text

from service.api import wire

Line = Callable[[str, str, Console], None]
"""Prints a label and what it says."""


def print_settle(check: wire.Check, line: Line, out: Console) -> None:
    """What would settle a check, under it."""
    if check.settle is not UNSET:
        for reading in check.settle.readings:
            line("measure", reading.text, out)
        line("", check.settle.text, out)


def print_clash(answer: wire.Answer, line: Line, out: Console) -> None:
    """Where nothing fits: what clashes, and what would help."""
    if answer.conflicts:
        head("What clashes", out)
        for number, conflict in enumerate(answer.conflicts, 1):
            line(f"{number}.", conflict.text or "", out)
    if answer.remedies:
        head("What would help: other parts, then wishes to give up, then what to move", out)
        for number, remedy in enumerate(answer.remedies, 1):
            line(f"{number}.", remedy.text or "", out)
    if answer.ask_again_text is not UNSET:
        out.print()
        out.print(answer.ask_again_text)
    if answer.truncated:
        out.print("There may be more than these.")
    if not answer.decided:
        out.print("The search reached its limit: what is not said here may still be so.")


def print_explained(answer: wire.Answer, line: Line, out: Console) -> None:
    """After the options: either side of what must be measured, open questions, and what was expected first."""
    if answer.either_way is not UNSET:
        head("Either way", out)
        line("measure first", answer.either_way.text, out)
    if answer.open_questions is not UNSET and answer.open_questions:
        head("Open questions, the most decisive first", out)
        for question in answer.open_questions:
            line(question.asks.replace("_", " "), question.text, out)
    if answer.expected_first is not UNSET and answer.expected_first:
        head("Expected first", out)
        for expected in answer.expected_first:
            line(expected.part, expected.text, out)


def head(text: str, out: Console) -> None:
    """A heading after an empty line."""
    out.print()
    out.print(Text(text, style="bold"))
