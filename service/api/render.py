"""From what the engine and the catalog say to what is answered: lengths in mm, money in major units, sentences."""

from collections.abc import Callable
from typing import Any, Literal, TypeVar

import msgspec
from msgspec import UNSET, UnsetType

from catalog import domain
from catalog.units import amount_text, millimetres
from service.api import render_explain, render_told, wire, wire_explain
from service.fit import answer as fit
from service.fit import wording
from service.fit.readings import called

T = TypeVar("T")
Wire = TypeVar("Wire")
Units = Literal["mm", "in"]
Detail = Literal["full", "brief"]


class Manner(msgspec.Struct, frozen=True):
    """How to say it: `units` of the sentences, `detail` of the whole, `currency` of the catalog."""

    units: Units
    detail: Detail
    currency: str

    @property
    def full(self) -> bool:
        """Whether sentences, alternatives and sources are wanted."""
        return self.detail == "full"


def answer(
    found: fit.Answer, release: domain.Release, manner: Manner, options: list[wire.Option] | None = None
) -> wire.Answer:
    """The engine's answer on the wire; `options` are those of the answer where they are rendered already."""
    return wire.Answer(
        release=release_name(release),
        build=found.build,
        verdict=found.verdict,
        text=wording.answer_text(found, manner.units) if manner.full else UNSET,
        **render_told.told(found.told, manner.units, full=manner.full),
        replaced=[_replaced(each, manner) for each in found.replaced],
        challenged=[challenged(each, manner) for each in found.challenged],
        options=[option(each, manner) for each in found.options] if options is None else options,
        pumps_that_fit=found.pumps_that_fit,
        ruled_out=[_ruled_out(pump, manner) for pump in found.ruled_out],
        ruled_out_total=found.ruled_out_total,
        conflicts=[_conflict(found, conflict, manner) for conflict in found.conflicts],
        remedies=[_remedy(found, remedy, manner) for remedy in found.remedies],
        ask_again_without=list(found.ask_again_without),  # type: ignore[arg-type]
        ask_again_text=_ask_again(found, manner),
        truncated=found.truncated,
        decided=found.decided,
        **_explanation(found, manner),
    )


def _explanation(found: fit.Answer, manner: Manner) -> dict[str, Any]:
    """What explains the ranking, where there is one."""
    explanation = found.explanation
    if explanation is None or not found.options or not manner.full:
        return {}
    return {
        "either_way": render_explain.either_way(explanation.either_way),
        "open_questions": render_explain.open_questions(explanation.open_questions, manner.units),
        "expected_first": render_explain.expected_first(explanation.expected_first, manner.units, manner.currency),
    }


def _ask_again(found: fit.Answer, manner: Manner) -> str | UnsetType:
    if not found.ask_again_without or not manner.full:
        return UNSET
    return wording.ask_again_text(found.build, found.ask_again_without, manner.units)


def _replaced(each: fit.Replaced, manner: Manner) -> wire.Replaced:
    text = wording.replaced_text(each) if manner.full else UNSET
    return wire.Replaced(field=each.field, asked=each.asked, answered=each.answered, text=text)


def challenged(each: fit.Challenged, manner: Manner) -> wire.Challenged:
    """A reading that contradicts its part."""
    return wire.Challenged(
        part=each.part,
        measure=each.measure,
        read_mm=millimetres(each.read),
        has_mm=millimetres(each.known),
        beyond_mm=millimetres(each.beyond),
        text=wording.challenged_text(each, manner.units) if manner.full else UNSET,
    )


def option(found: fit.Option, manner: Manner) -> wire.Option:
    """An option; of one that other questions have too, what is the same is rendered once."""
    if found.derived is None:
        return rendered(found, manner)
    shared = found.derived.of
    known = found.derived.get(manner, lambda shared: rendered(shared, manner))
    return msgspec.structs.replace(
        known,
        rank=found.rank,
        above_next=above_next(found.above_next, manner),
        checks=_again(found.checks, shared.checks, known.checks, lambda check: _check(check, manner)),
        parts_list=_again(found.parts_list, shared.parts_list, known.parts_list, lambda line: _listed(line, manner)),
    )


def _again(items: tuple[T, ...], shared: tuple[T, ...], known: list[Wire], render: Callable[[T], Wire]) -> list[Wire]:
    """The items on the wire, those that are shared as they are known."""
    if items is shared:
        return known
    of_shared = {id(item): wired for item, wired in zip(shared, known, strict=True)}
    return [of_shared.get(id(item)) or render(item) for item in items]


def rendered(option: fit.Option, manner: Manner) -> wire.Option:
    """An option, nothing of it known."""
    return wire.Option(
        rank=option.rank,
        pump=called(option.pump),
        name=option.name,
        plates=list(option.plates),
        work=option.work,
        verdict=option.verdict,
        recommended=option.recommended,
        buy_price=money(option.buy_price),
        least_margin_mm=_mm(option.least_margin),
        least_margin_check=present(option.least_margin_check),
        thickness_window=_window(option.thickness_window),
        stack=[
            wire.Layer(part=called(layer.part), from_mm=millimetres(layer.from_), to_mm=millimetres(layer.to))
            for layer in option.stack
        ],
        parts_list=[_listed(listed, manner) for listed in option.parts_list],
        checks=[_check(check, manner) for check in option.checks],
        open_ports=[
            wire.OpenPort(
                part=called(port.part),
                port=port.port,
                role=port.role,
                connection=port.connection,
                side=present(port.side),
                direction=present(port.direction),
                wet=port.wet,
                work=UNSET if port.work == "bolt_on" else port.work,
            )
            for port in option.open_ports
        ],
        cautions=render_told.cautions(option.cautions),
        notes=render_told.notes(option.notes),
        offers=[
            wire.Offer(
                part=offer.part,
                name=offer.name,
                price=money(offer.price),
                text=wording.offer_text(offer) if manner.full else UNSET,
            )
            for offer in option.offers
        ],
        above_next=above_next(option.above_next, manner),
    )


def _check(check: fit.Check, manner: Manner) -> wire.Check:
    return wire.Check(
        code=check.code,
        verdict=check.verdict,
        reason=check.reason,
        zone=check.zone or UNSET,
        value_mm=_mm(check.value),
        limit_mm=_mm(check.limit),
        margin_mm=_mm(check.margin),
        worst_case_mm=_mm(check.worst_case),
        rss_mm=_mm(check.rss),
        likelihood=present(check.likelihood),
        text=wording.check_text(check, manner.units) if manner.full else UNSET,
        rests_on=[_rests_on(rest) for rest in check.rests_on] if manner.full else UNSET,
        settle=render_explain.settle(check.settle, manner.units) if manner.full else UNSET,
    )


def _rests_on(rest: fit.RestsOn) -> wire.RestsOn:
    return wire.RestsOn(
        part=called(rest.part) or UNSET,
        measure=rest.measure or UNSET,
        taken_with=rest.taken_with or UNSET,
        source=rest.source or UNSET,
        rule=rest.rule or UNSET,
        standard=rest.standard or UNSET,
    )


def _listed(listed: fit.ListedPart, manner: Manner) -> wire.ListedPart:
    return wire.ListedPart(
        part=listed.part,
        name=listed.name,
        kind=listed.kind,
        role=listed.role,
        quantity=listed.quantity,
        at_hand=listed.at_hand,
        price=money(listed.price),
        why=wording.why_text(listed, manner.units) if manner.full else UNSET,
        alternatives=[
            wire.Alternative(part=other.part, price_difference=money(other.price_difference))
            for other in listed.alternatives
        ]
        if manner.full
        else UNSET,
    )


def above_next(above: fit.AboveNext | None, manner: Manner) -> wire_explain.AboveNext | UnsetType:
    """Why an option stands above the next."""
    if above is None:
        return UNSET
    text = wording.above_next_text(above, manner.units, manner.currency) if manner.full else UNSET
    return render_explain.above_next(above, manner.currency, text)


def _ruled_out(pump: fit.RuledOut, manner: Manner) -> wire.RuledOut:
    if pump.derived is None:
        return _miss(pump, manner)
    return pump.derived.get(manner, lambda pump: _miss(pump, manner))


def _miss(pump: fit.RuledOut, manner: Manner) -> wire.RuledOut:
    return wire.RuledOut(
        pump=called(pump.pump),
        name=pump.name,
        plates=list(pump.plates),
        code=pump.check.code,
        reason=pump.check.reason,
        short_by_mm=_mm(pump.short_by),
        thickness_window=_window(pump.thickness_window),
        measuring=pump.measuring,
        text=wording.ruled_out_text(pump, manner.units) if manner.full else UNSET,
    )


def _conflict(found: fit.Answer, conflict: fit.Conflict, manner: Manner) -> wire.Conflict:
    return wire.Conflict(
        requirements=list(conflict.requirements),  # type: ignore[arg-type]
        facts=[_fact(found, conflict, obstacle, manner) for obstacle in conflict.obstacles],
        text=wording.conflict_text(found.build, conflict, manner.units) if manner.full else UNSET,
    )


def _fact(found: fit.Answer, conflict: fit.Conflict, obstacle: fit.Obstacle, manner: Manner) -> wire.Fact:
    check = obstacle.check
    missed = check.margin is not None and check.margin < 0
    return wire.Fact(
        requirement=obstacle.requirement or UNSET,  # type: ignore[arg-type]
        pump=called(obstacle.pump),
        plates=list(obstacle.plates),
        code=check.code,
        reason=check.reason,
        value_mm=_mm(check.value),
        limit_mm=_mm(check.limit),
        short_by_mm=_mm(-check.margin) if check.margin is not None and missed else UNSET,
        thickness_window=_window(obstacle.window),
        text=wording.obstacle_text(found.build, conflict, obstacle, manner.units) if manner.full else UNSET,
        rests_on=[_rests_on(rest) for rest in check.rests_on] if manner.full else UNSET,
    )


def _remedy(found: fit.Answer, remedy: fit.Remedy, manner: Manner) -> wire.Remedy:
    return wire.Remedy(
        give_up=list(remedy.give_up),  # type: ignore[arg-type]
        swap=wire.Swap(**remedy.swap) if remedy.swap else UNSET,
        move=wire.Move(**{field: millimetres(length) for field, length in remedy.move.items()})
        if remedy.move
        else UNSET,
        swap_price=money(remedy.swap_price),
        price=money(remedy.price),
        best=option(remedy.best, manner),
        text=wording.remedy_text(found.build, remedy, manner.units) if manner.full else UNSET,
    )


def _window(window: fit.Window | None) -> wire.Window | UnsetType:
    return UNSET if window is None else wire.Window(from_mm=millimetres(window.from_), to_mm=_mm(window.to))


def release_name(release: domain.Release) -> wire.ReleaseName:
    """A release by number, name and digest."""
    return wire.ReleaseName(number=release.number, name=release.name, digest=release.digest)


def money(price: domain.Price | None) -> wire.Money | UnsetType:
    """Minor units as an amount in major units."""
    if price is None:
        return UNSET
    return wire.Money(amount=float(amount_text(price.amount, price.currency)), currency=price.currency)


def with_release(found: msgspec.Struct, release: domain.Release) -> dict[str, Any]:
    """The fields of a wire struct and the release, for the struct that adds it."""
    return {name: getattr(found, name) for name in found.__struct_fields__} | {"release": release_name(release)}


def _mm(length: fit.Length | None) -> float | UnsetType:
    return UNSET if length is None else millimetres(length)


def present(value: T | None) -> T | UnsetType:
    """What there is; absent on the wire where there is nothing."""
    return UNSET if value is None else value
