"""What explains a ranking, for people to read: what to measure, what to tell, why the expected is not first."""

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


def print_explained(answer: wire.Answer, line: Line, out: Console) -> None:
    """After the options: either side of what must be measured, open questions, and what was expected first."""
    if answer.either_way is not UNSET:
        _head("Either way", out)
        line("measure first", answer.either_way.text, out)
    if answer.open_questions is not UNSET and answer.open_questions:
        _head("Open questions, the most decisive first", out)
        for question in answer.open_questions:
            line(question.asks.replace("_", " "), question.text, out)
    if answer.expected_first is not UNSET and answer.expected_first:
        _head("Expected first", out)
        for expected in answer.expected_first:
            line(expected.part, expected.text, out)


def _head(text: str, out: Console) -> None:
    out.print()
    out.print(Text(text, style="bold"))
