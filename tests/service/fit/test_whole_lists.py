"""Whole parts lists against an independent verifier and against trying every list, on small random catalogs.

The oracles are written from the design alone. No disagreement is tolerated on any of the seeded cases.
"""

from collections import Counter
from functools import cache
from random import Random
from typing import Any

import msgspec
import pytest

from catalog.checks import check_snapshot
from catalog.domain import Part, Price, Snapshot
from service.fit import whole
from service.fit.answer import Answer, Option
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from tests.bench.assortment import snapshot as assortment
from tests.bench.builds import builds
from tests.oracles import generator
from tests.oracles.circuit_generator import seeded_case
from tests.oracles.generator import Case
from tests.oracles.verifier import verify
from tests.oracles.whole_list import Best, TooMany, solve

BLOCK = 20
BLOCKS = 10
CASES = BLOCK * BLOCKS


@cache
def best_of(seed: int) -> list[Best] | None:
    """By trying every list; None where there are too many."""
    case = seeded_case(seed)
    try:
        return solve(case.snapshot, case.build)
    except TooMany:
        return None


@cache
def answer_to(seed: int) -> Answer:
    return ask(seeded_case(seed))


def ask(case: Case) -> Answer:
    return fit(ConstraintGraph(case.snapshot), case.build, diagnose=False)


def path_of(option: Option) -> tuple[str, tuple[str, ...]]:
    return option.pump, tuple(sorted(option.plates))


def quantities_of(option: Option) -> dict[str, int]:
    return {line.part: line.quantity for line in option.parts_list}


# --- the cases -----------------------------------------------------------------------------------------------


@cache
def census() -> Counter[object]:
    """In how many cases each thing happens."""
    counts = Counter[object]()
    for seed in range(CASES):
        case, best = seeded_case(seed), best_of(seed)
        if best is None:
            counts["too many lists"] += 1
            continue
        wholes = [whole for one in best for whole in one.wholes]
        used = [case.snapshot.parts[one] for one in sorted({one for whole in wholes for one in whole.quantities})]
        verdict = wholes[0].verdict if wholes else "blocked"
        seen: set[object] = {verdict, (case.build.pump_drive, verdict)}
        seen |= {part.kind for part in used}
        seen |= {
            word
            for part in used
            for word in ("crosses", "molded_from", "thermostat_included")
            if word in part.attributes
        }
        seen |= {(test.code, test.verdict) for whole in wholes for test in whole.tests}
        seen |= {"part at hand"} if any(case.build.have.count(part.number) for part in used) else set()
        seen |= {"no price"} if any(whole.price[0] for whole in wholes) else set()
        seen |= {"tie"} if any(len(one.wholes) > 1 for one in best) else set()
        seen |= {"kit"} if any(part.number == "F-kit" for part in used) else set()
        seen |= {"brought in"} if any(part.number.startswith("X-") for part in used) else set()
        seen |= {"left open"} if any(whole.opens for whole in wholes) else set()
        seen |= {"heater, no radiator"} if case.build.heater and not case.build.radiator and wholes else set()
        counts.update(seen)
    return counts


@pytest.mark.parametrize(
    ("thing", "least"),
    [
        ("ok", CASES // 4),
        ("measure_first", CASES // 30),
        ("blocked", CASES // 5),
        (("belt", "ok"), CASES // 6),
        (("remote", "ok"), CASES // 60),
        (("remote", "measure_first"), CASES // 100),
        (("remote", "blocked"), CASES // 60),
        *(
            (kind, CASES // 30)
            for kind in ("hose", "fitting", "thermostat_housing", "thermostat", "cap", "plug", "fan", "fan_adapter")
        ),
        ("outlet_plate", CASES // 60),
        ("remote_pump", CASES // 60),
        ("belt", 2),
        ("crosses", CASES // 30),
        ("molded_from", 2),
        ("thermostat_included", CASES // 10),
        (("radiator_gap", "ok"), CASES // 20),
        (("radiator_gap", "measure_first"), 1),
        ("part at hand", CASES // 10),
        ("no price", CASES // 30),
        ("kit", CASES // 30),
        ("brought in", 3),
        ("left open", 2),
        (("line_size", "measure_first"), 3),
        (("outlet_path", "measure_first"), 2),
        (("inlet_path", "measure_first"), 1),
        (("outlet_side", "ok"), 5),
        (("outlet_side", "measure_first"), 1),
    ],
)
def test_generated_cases_hold_enough_of_everything(thing: object, least: int) -> None:
    assert census()[thing] >= least


def test_few_cases_are_too_large_to_try() -> None:
    assert census()["too many lists"] <= CASES // 50


def test_lists_that_hold_another_and_more_are_never_better() -> None:
    """The oracle leaves them out; here it tries them too, with up to two pieces of a number in the circuit."""
    tried = 0
    for seed in range(BLOCK):
        case, best = seeded_case(seed), best_of(seed)
        seals = {part.number: 9 for part in case.snapshot.parts.values() if part.kind == "gasket"}
        try:
            every = solve(case.snapshot, case.build, {**dict.fromkeys(case.snapshot.parts, 2), **seals})
        except TooMany:
            continue
        few = [one for one in best or [] if all(max(whole.quantities.values()) <= 2 for whole in one.wholes)]
        tried += len(few)
        keys = {one.path: one.key for one in every}
        assert all(keys[one.path] == one.key for one in few), seed
    assert tried >= 5


def test_generated_catalogs_are_sound() -> None:
    assert {seed: faults for seed in range(CASES) if (faults := check_snapshot(seeded_case(seed).snapshot))} == {}


# --- the engine against the oracles --------------------------------------------------------------------------


@pytest.mark.parametrize("block", range(BLOCKS))
def test_every_option_is_whole(block: int) -> None:
    seeds = range(block * BLOCK, (block + 1) * BLOCK)
    wrong = {}
    for seed in seeds:
        case = seeded_case(seed)
        if found := verify(case.snapshot, case.build, answer_to(seed)):
            wrong[seed] = found
    assert wrong == {}


@pytest.mark.parametrize("block", range(BLOCKS))
def test_same_best_lists_as_trying_all(block: int) -> None:
    seeds = range(block * BLOCK, (block + 1) * BLOCK)
    wrong = {seed: found for seed in seeds if (found := differences(seed))}
    assert wrong == {}


@pytest.mark.parametrize("seed", [456])
def test_same_best_lists_where_they_once_were_not(seed: int) -> None:
    """456: a plug that a rule brings in anyway closes a port too."""
    assert differences(seed) == []


def differences(seed: int) -> list[str]:
    """Paths that only one of them finds, best lists that differ in what ranks them, and their order."""
    best, answer = best_of(seed), answer_to(seed)
    if best is None:
        return []
    by_path = {path_of(option): option for option in answer.options}
    expected = {one.path: one for one in best}
    found = [f"only the engine: {path}" for path in sorted(set(by_path) - set(expected))]
    found += [f"only by trying: {path}" for path in sorted(set(expected) - set(by_path))]
    for path in sorted(set(by_path) & set(expected)):
        found += list_differences(by_path[path], expected[path])
    keys = [expected[path_of(option)].key for option in answer.options if path_of(option) in expected]
    if keys != sorted(keys):
        found.append("order of options differs")
    return found


def list_differences(option: Option, best: Best) -> list[str]:
    """The engine's list is one of the best; of several that rank alike it may be any that holds nothing needless."""
    mine = quantities_of(option)
    if any(mine == {part: count for part, count in whole.quantities.items() if count} for whole in best.wholes):
        return []
    one = best.wholes[0]
    said = (option.verdict, option.work, option.buy_price and option.buy_price.amount, sum(mine.values()))
    right = (one.verdict, one.work, None if one.price[0] else one.price[1], sum(one.quantities.values()))
    more = dict(sorted((Counter(mine) - one.quantities).items()))
    less = dict(sorted((one.quantities - Counter(mine)).items()))
    return [f"{best.path}: {said} with {more}, expected {right} with {less}"]


@pytest.mark.parametrize("block", range(3))
def test_options_that_ask_nothing_of_the_coolant_are_whole_too(block: int) -> None:
    for seed in range(block * BLOCK, (block + 1) * BLOCK):
        case = generator.seeded_case(seed)
        assert verify(case.snapshot, case.build, ask(case)) == [], seed


# --- what must hold when the catalog changes -----------------------------------------------------------------


def without_part(snapshot: Snapshot, number: str) -> Snapshot:
    """The catalog without a part, and without the rules that name it."""
    parts = {name: part for name, part in snapshot.parts.items() if name != number}
    rules = tuple(rule for rule in snapshot.rules if number not in (rule.part, *rule.others))
    return Snapshot(snapshot.release, snapshot.currency, parts, snapshot.connections, rules)


def removable(case: Case) -> list[str]:
    """Parts that neither the build nor a rule nor another part names."""
    named = {"E-0", "D-0", "R-0", "K-0", "B-0", *case.build.have, *case.build.must.without}
    named |= {measured.part for measured in case.build.measured}
    named |= {str(case.build.pump), str(case.build.fan)}
    named |= {number for rule in case.snapshot.rules for number in (rule.part, *rule.others)}
    named |= {port.gasket for part in case.snapshot.parts.values() for port in part.ports if port.gasket is not None}
    named |= {one.gasket for one in case.snapshot.connections.values() if one.gasket is not None}
    named |= {
        str(part.attributes[word])
        for part in case.snapshot.parts.values()
        for word in ("molded_from", "molded_to")
        if word in part.attributes
    }
    return [number for number in case.snapshot.parts if number not in named]


@pytest.mark.parametrize("block", range(3))
def test_removing_a_part_never_makes_an_option_appear(block: int) -> None:
    """Where no shorter bolt was in the way: the shortest that holds is taken, whatever else it is."""
    for seed in range(block * BLOCK, (block + 1) * BLOCK):
        case, before = seeded_case(seed), {path_of(option) for option in answer_to(seed).options}
        numbers = [one for one in removable(case) if case.snapshot.parts[one].kind != "fastener_set"]
        if not numbers:
            continue
        number = Random(seed).choice(numbers)
        after = ask(Case(without_part(case.snapshot, number), case.build))
        assert {path_of(option) for option in after.options} <= before, (seed, number)


@pytest.mark.parametrize("block", [0, 2])
def test_a_cheaper_equivalent_never_makes_the_best_option_dearer(block: int) -> None:
    """Ranked by price first, among whole lists that hold."""
    for seed in range(block * BLOCK, (block + 1) * BLOCK):
        case = seeded_case(seed)
        build = msgspec.structs.replace(case.build, rank_by=["price"])
        before = ask(Case(case.snapshot, build))
        if not before.options or before.options[0].buy_price is None:
            continue
        kinds = ("hose", "fitting", "thermostat_housing", "cap", "plug", "thermostat")
        listed = [line.part for line in before.options[0].parts_list if line.kind in kinds]
        if not listed:
            continue
        after = ask(Case(with_cheaper(case.snapshot, Random(seed).choice(listed)), build))
        assert after.options, seed
        if after.options[0].verdict == before.options[0].verdict:
            assert price_of(after.options[0]) <= price_of(before.options[0]), seed


def with_cheaper(snapshot: Snapshot, number: str) -> Snapshot:
    """A part just like this one for less, or for nothing where it costs little."""
    part: Part = snapshot.parts[number]
    amount = 0 if part.price is None else max(0, part.price.amount - 100)
    copy = msgspec.structs.replace(part, number=f"{number}-b", status="active", price=Price(amount, snapshot.currency))
    parts = dict(sorted([*snapshot.parts.items(), (copy.number, copy)]))
    return Snapshot(snapshot.release, snapshot.currency, parts, snapshot.connections, snapshot.rules)


def price_of(option: Option) -> int:
    assert option.buy_price is not None
    return option.buy_price.amount


def test_dropping_a_requirement_never_removes_an_option() -> None:
    """Design, section 4: a field left out asks nothing."""
    for seed in range(CASES, CASES + 2 * BLOCK):
        case = seeded_case(seed)
        before = {path_of(option) for option in ask(case).options}
        for field in ("radiator", "radiator_ports", "heater", "fan", "core_distance", "accessory_drive"):
            fields: dict[str, Any] = {name: getattr(case.build, name) for name in Build.__struct_fields__}
            if fields.pop(field) is msgspec.UNSET:
                continue
            after = {path_of(option) for option in ask(Case(case.snapshot, Build(**fields))).options}
            assert before <= after, (seed, field)


def test_a_heater_alone_is_led_as_far_as_was_asked() -> None:
    """A pump whose heater return is on its housing fits with a radiator, and so it does without one too."""
    for seed in range(BLOCK):
        case = seeded_case(seed)
        for field in ("radiator", "radiator_ports"):
            fields: dict[str, Any] = {name: getattr(case.build, name) for name in Build.__struct_fields__}
            fields["heater"] = "K-0"
            before = {path_of(option) for option in ask(Case(case.snapshot, Build(**fields))).options}
            fields[field] = msgspec.UNSET
            after = {path_of(option) for option in ask(Case(case.snapshot, Build(**fields))).options}
            assert before <= after, seed


# --- the verifier itself: it sees every lie ------------------------------------------------------------------


def lies(option: Option) -> dict[str, Option]:
    """The option with one thing wrong in it, for each of many things."""
    replace = msgspec.structs.replace
    lines = option.parts_list
    found: dict[str, Option] = {}
    for place, line in enumerate(lines):
        before, behind = lines[:place], lines[place + 1 :]
        found[f"without {line.part}"] = replace(option, parts_list=(*before, *behind))
        if line.kind not in ("hose", "fitting"):  # one more of these may be a longer way that is whole as well
            more = replace(line, quantity=line.quantity + 1)
            found[f"one more {line.part}"] = replace(option, parts_list=(*before, more, *behind))
        hand = replace(line, at_hand=line.at_hand + 1)
        found[f"{line.part} at hand"] = replace(option, parts_list=(*before, hand, *behind))
    if option.buy_price is not None:
        dearer = Price(option.buy_price.amount + 1, option.buy_price.currency)
        found["dearer"] = replace(option, buy_price=dearer)
        found["no price"] = replace(option, buy_price=None)
    found["other verdict"] = replace(option, verdict="ok" if option.verdict == "measure_first" else "measure_first")
    found["other work"] = replace(option, work="machining")
    for place, check in enumerate(option.checks):
        if check.margin is not None and check.verdict != "not_asked":
            wrong = replace(check, margin=check.margin + 1)
            found[f"margin {place}"] = replace(
                option, checks=(*option.checks[:place], wrong, *option.checks[place + 1 :])
            )
    if option.open_ports:
        found["no open ports"] = replace(option, open_ports=())
    found["no stack"] = replace(option, stack=option.stack[:-1])
    return found


def test_a_part_that_a_rule_brings_in_any_case_costs_no_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pump that needs a boot: as no line can hold it, the first combination of lines is known to be the best."""
    monkeypatch.setattr(whole, "MOST_COMBINATIONS", 1)
    catalog = assortment(1_000, 1, 100)
    answer = fit(ConstraintGraph(catalog), builds(catalog).whole, diagnose=False)
    assert any(line.role == "required" for option in answer.options for line in option.parts_list)
    assert answer.decided


def test_the_verifier_sees_every_lie() -> None:
    unseen = []
    for seed in range(2 * BLOCK):
        case, answer = seeded_case(seed), answer_to(seed)
        for option in answer.options[:1]:
            alone = msgspec.structs.replace(
                answer, options=(option,), verdict="fits" if option.verdict == "ok" else "measure_first", ruled_out=()
            )
            assert verify(case.snapshot, case.build, alone) == []
            for lie, told in lies(option).items():
                if not verify(case.snapshot, case.build, msgspec.structs.replace(alone, options=(told,))):
                    unseen.append((seed, lie))
    assert unseen == []


def test_the_verifier_sees_another_size_of_hose() -> None:
    """A list with a hose of a size that nothing on it has."""
    unseen = []
    for seed in range(3 * BLOCK):
        case, answer = seeded_case(seed), answer_to(seed)
        for option in answer.options[:1]:
            hoses = [line for line in option.parts_list if line.kind == "hose"]
            others = [
                part
                for part in case.snapshot.parts.values()
                if part.kind == "hose"
                and hoses
                and not {port.connection for port in part.ports}
                & {port.connection for line in hoses for port in case.snapshot.parts[line.part].ports}
            ]
            if others:
                wrong = msgspec.structs.replace(
                    hoses[0], part=others[0].number, name=others[0].name, price=others[0].price, at_hand=0
                )
                told = tuple(wrong if line is hoses[0] else line for line in option.parts_list)
                lied = msgspec.structs.replace(option, parts_list=told)
                if not verify(case.snapshot, case.build, msgspec.structs.replace(answer, options=(lied,))):
                    unseen.append(seed)
    assert unseen == []
