"""Why, for people to read, in the order in which a person would tell it."""

from collections.abc import Iterator

from msgspec import UNSET
from rich.console import Console

from service.api import table, table_explain, table_told, wire


def print_why(answer: wire.Answer, out: Console) -> None:
    """Of a blocked build what clashes and what would help; of any other why the first option is the first."""
    table.print_verdict(answer, out)
    table_explain.print_clash(answer, table.print_line, out)
    _print_rests(answer, out)
    if answer.remedies:
        table_explain.head("The first of these as a whole", out)
        table.print_option(answer.remedies[0].best, out)
    if answer.options:
        table.print_option(answer.options[0], out)
    _print_ranks(answer, out)
    table_explain.print_explained(answer, table.print_line, out)
    table.print_ruled_out(answer, out)
    table_told.print_told(answer, table.print_line, out)


def _print_rests(answer: wire.Answer, out: Console) -> None:
    """What the conflicts rest on, each fact once."""
    facts = [fact for conflict in answer.conflicts for fact in conflict.facts]
    told = dict.fromkeys(text for fact in facts for text in _rests(fact))
    if told:
        table_explain.head("What this rests on", out)
        for text in told:
            out.print(text)


def _rests(fact: wire.Fact) -> Iterator[str]:
    for rest in () if fact.rests_on is UNSET else fact.rests_on:
        source = "" if rest.source is UNSET or rest.source in ("", rest.taken_with) else f": {rest.source}"
        if rest.part is not UNSET and rest.measure is not UNSET:
            yield f"{rest.measure.replace('_', ' ').replace('.', ', ')} of {rest.part} ({rest.taken_with}){source}"
        elif rest.rule is not UNSET:
            yield f"rule {rest.rule}{source}"
        elif rest.standard is not UNSET:
            yield rest.standard


def _print_ranks(answer: wire.Answer, out: Console) -> None:
    """Why each option stands where it does."""
    if len(answer.options) < 2:
        return
    table_explain.head("Why in this order", out)
    for option in answer.options[:-1]:
        if option.above_next is not UNSET and option.above_next.text is not UNSET:
            plates = f" on {', '.join(option.plates)}" if option.plates else ""
            table.print_line(f"{option.rank}.", f"{option.pump}{plates}. {option.above_next.text}", out)
