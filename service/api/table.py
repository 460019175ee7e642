"""An answer, a part and the releases for people to read: in colour on a terminal, plain elsewhere."""

import sys
from collections.abc import Iterable
from typing import Final

from msgspec import UNSET, UnsetType
from rich.console import Console
from rich.table import Table
from rich.text import Text

from catalog.units import exponent
from service.api import table_explain, table_told, wire, wire_catalog

WIDTH_ELSEWHERE: Final = 100
"""Columns where there is no terminal to ask."""
_VERDICTS: Final = {"ok": "green", "fits": "green", "measure_first": "yellow", "blocked": "red", "fails": "red"}


def console() -> Console:
    """Standard output: no colour and a fixed width where it is no terminal; nothing is ever cut off."""
    terminal = sys.stdout.isatty()
    return Console(
        width=None if terminal else WIDTH_ELSEWHERE, no_color=not terminal, highlight=False, markup=False, emoji=False
    )


def print_answer(answer: wire.Answer, out: Console) -> None:
    """The answer: a sentence, a table of the options, then each option with its reasons; else what clashes."""
    print_verdict(answer, out)
    if answer.options:
        out.print()
        out.print(_options(answer.options))
    for option in answer.options:
        print_option(option, out)
    table_explain.print_clash(answer, print_line, out)
    table_explain.print_explained(answer, print_line, out)
    print_ruled_out(answer, out)
    table_told.print_told(answer, print_line, out)


def print_verdict(answer: wire.Answer, out: Console) -> None:
    """The answer in a sentence, the release that it follows from, and what is not known."""
    style = _VERDICTS[answer.verdict]
    # What was not checked comes before the verdict.
    out.print(_said(answer.text))
    out.print(
        Text(_words(answer.verdict).capitalize(), style=style)
        + Text(f", from release {answer.release.number} ({answer.release.name}).")
    )
    for replaced in answer.replaced:
        out.print(_said(replaced.text))
    table_told.print_not_known(answer, print_line, out)


def _options(options: Iterable[wire.Option]) -> Table:
    table = _table("", "pump", "plates", "work", "to buy", "least margin", "verdict")
    for option in options:
        table.add_row(
            str(option.rank),
            option.pump,
            ", ".join(option.plates) or "none",
            _words(option.work),
            money_text(option.buy_price),
            _margin(option),
            Text(_words(option.verdict), style=_VERDICTS[option.verdict]),
        )
    return table


def print_option(option: wire.Option, out: Console) -> None:
    """One option: its parts list, its checks, and what goes with it; cautions and notes by code."""
    out.print()
    out.print(Text(f"Option {option.rank}: {option.pump}", style="bold"))
    table = _table("part", "pieces", "at hand", "price", "to buy", "what and why")
    for line in option.parts_list:
        buy = line.quantity - line.at_hand
        price = line.price
        total = price if price is UNSET else wire.Money(amount=buy * price.amount, currency=price.currency)
        table.add_row(
            line.part,
            str(line.quantity),
            str(line.at_hand),
            money_text(price),
            money_text(total),
            f"{line.name}. {_said(line.why)}",
        )
    table.add_row("", "", "", "in all", money_text(option.buy_price), "")
    out.print(table)
    for check in option.checks:
        if check.verdict != "not_asked":
            print_line(_words(check.verdict), _said(check.text), out)
            table_explain.print_settle(check, print_line, out)
    open_checks = [_words(check.code) for check in option.checks if check.verdict == "not_asked"]
    if open_checks:
        print_line("not asked", ", ".join(dict.fromkeys(open_checks)), out)
    if option.open_ports:
        print_line("yours", ", ".join(f"{port.part} {_words(port.port)}" for port in option.open_ports), out)
    table_told.print_codes(option, print_line, out)
    for offer in option.offers:
        print_line("offered", f"{offer.part}, {money_text(offer.price)}: {_said(offer.text)}", out)
    if option.above_next is not UNSET:
        out.print(_said(option.above_next.text))


def print_ruled_out(answer: wire.Answer, out: Console) -> None:
    """The pumps without an option, the nearest miss first."""
    if not answer.ruled_out:
        return
    out.print()
    out.print(Text("Ruled out", style="bold") + Text(f" ({answer.ruled_out_total}), the nearest miss first"))
    table = _table("pump", "short by", "why")
    for pump in answer.ruled_out:
        table.add_row(pump.pump, _mm(pump.short_by_mm), _said(pump.text))
    out.print(table)


def print_part(part: wire_catalog.Part, out: Console) -> None:
    """All that the catalog says of a part."""
    out.print(Text(part.number, style="bold") + Text(f"  {part.name}"))
    out.print(f"{_words(part.kind)}, {part.status}{', recommended' if part.recommended else ''}")
    if part.aliases:
        out.print(f"Also known as {', '.join(part.aliases)}")
    out.print(f"Price: {money_text(part.price)}")
    if part.retired is not UNSET:
        out.print(_said(part.retired.text))
    facts = _table("fact", "value", "taken with", "source")
    for name, value in part.attributes.items():
        facts.add_row(_words(name), str(value), "", "")
    for name, measure in part.measures.items():
        doubt = f"+{measure.plus_mm:g}/-{measure.minus_mm:g}"
        facts.add_row(name, f"{measure.nominal_mm:g} {doubt} mm", measure.taken_with, _said(measure.source))
    for band in part.bands:
        facts.add_row("band", f"{band.from_mm:g} to {band.to_mm:g} mm, {band.surface}, {band.grooves} grooves", "", "")
    for port in part.ports:
        facts.add_row("port", f"{port.name}: {port.end} of {port.connection}", "", "")
    for rule in part.rules:
        facts.add_row("rule", f"{rule.part} {_words(rule.kind)} {', '.join(rule.others)}", "", _said(rule.source))
    out.print(facts)


def print_releases(releases: Iterable[wire_catalog.Release], out: Console) -> None:
    """The published releases."""
    table = _table("release", "name", "published", "what changed", "digest")
    for release in releases:
        table.add_row(str(release.number), release.name, release.published_on, release.note, release.digest[:19])
    out.print(table)


def print_parts(parts: Iterable[wire_catalog.Part], out: Console) -> None:
    """The parts of a release, a line each."""
    table = _table("part", "kind", "name", "price", "status")
    for part in parts:
        table.add_row(part.number, _words(part.kind), part.name, money_text(part.price), part.status)
    out.print(table)


def money_text(money: wire.Money | UnsetType) -> str:
    """The amount with the currency's decimals, or that there is none."""
    return "no price" if money is UNSET else f"{money.amount:.{exponent(money.currency)}f} {money.currency}"


def _table(*heads: str) -> Table:
    table = Table(box=None, pad_edge=False, header_style="bold")
    for head in heads:
        table.add_column(head, overflow="fold")
    return table


def print_line(label: str, text: str, out: Console) -> None:
    """A label and what it says."""
    row = Table.grid(padding=(0, 1))
    row.add_column(width=14, style=_VERDICTS.get(label.replace(" ", "_"), ""))
    row.add_column(overflow="fold")
    row.add_row(label, text)
    out.print(row)


def _margin(option: wire.Option) -> str:
    """The least margin beside the check that it is of."""
    check = option.least_margin_check
    return _mm(option.least_margin_mm) + ("" if check is UNSET else f" ({_words(check)})")


def _mm(value: float | UnsetType) -> str:
    return "" if value is UNSET else f"{value:.2f} mm"


def _words(name: str) -> str:
    return name.replace("_", " ")


def _said(text: str | UnsetType) -> str:
    return "" if text is UNSET else text
