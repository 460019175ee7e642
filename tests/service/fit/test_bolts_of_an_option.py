"""Bolts belong to the option: each set that holds may be chosen, and the one with which the option stands best is."""

from typing import Any

import msgspec
import pytest

from catalog.domain import Part, Price, Snapshot
from service.fit.answer import Answer, Option
from service.fit.build import Build
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph

ASKED: dict[str, Any] = {"engine": "ENG-R20", "accessory_drive": "DR-541", "front_cover": "FC-R5", "pump": "WP-227"}
SHORT, LONG = "FS-8-50", "FS-8-55"
"""The shortest set that holds this pump in its first option, and the next."""
LIMIT = {"price_at_most": {"amount": 400, "currency": "USD"}}


def with_sets(demo: Snapshot, **sets: dict[str, Any]) -> Snapshot:
    """The demo with other facts of its fastener sets, by number."""
    named = {number.replace("_", "-"): changes for number, changes in sets.items()}
    parts: dict[str, Part] = {
        number: msgspec.structs.replace(part, **named.get(number, {})) for number, part in demo.parts.items()
    }
    return msgspec.structs.replace(demo, parts=parts)


def ask(snapshot: Snapshot, **more: Any) -> Answer:
    return fit(ConstraintGraph(snapshot), msgspec.convert(ASKED | more, Build))


def bolts(option: Option) -> set[str]:
    return {line.part for line in option.parts_list if line.kind == "fastener_set"}


def dear(amount: int) -> dict[str, Any]:
    return {"price": Price(amount * 100, "USD")}


def test_the_shortest_set_is_taken_where_it_is_the_cheapest(demo: Snapshot) -> None:
    assert bolts(ask(demo).options[0]) == {SHORT}


@pytest.mark.parametrize(
    ("short", "must"),
    [
        (dear(900), LIMIT),
        (dear(900), {}),
        ({"price": None}, LIMIT),
        ({"price": None}, {}),
        ({"attributes": {"thread": "M8x1.25", "pieces": 8, "work": "weld"}}, {"work_at_most": "bolt_on"}),
    ],
    ids=["dear and limited", "dear", "unpriced and limited", "unpriced", "heavy"],
)
def test_a_longer_set_opens_what_the_shortest_would_close(
    short: dict[str, Any], must: dict[str, Any], demo: Snapshot
) -> None:
    answer = ask(with_sets(demo, FS_8_50=short), must=must)
    assert answer.verdict == "fits"
    assert bolts(answer.options[0]) == {LONG}
    # So that a restriction turns no "no" into a "yes".
    assert ask(with_sets(demo, FS_8_50=short), must=must | {"without": [SHORT]}).verdict == answer.verdict


def test_a_set_at_hand_is_free(demo: Snapshot) -> None:
    answer = ask(demo, have=[LONG])
    assert bolts(answer.options[0]) == {LONG}
    lines = {line.part: line.at_hand for line in answer.options[0].parts_list}
    assert lines[LONG] == 1
    plain = ask(demo).options[0].buy_price
    had = answer.options[0].buy_price
    assert plain is not None
    assert had is not None
    assert had.amount == plain.amount - 2400


@pytest.mark.parametrize(("number", "shorter"), [("FS-8-50", "FS-8-50"), ("FS-8-49", "FS-8-49")])
def test_of_sets_alike_in_all_that_ranks_the_shortest_then_the_first_by_number(
    number: str, shorter: str, demo: Snapshot
) -> None:
    """At one price the shorter is taken; of one length the number decides."""
    snapshot = with_sets(demo, FS_8_55=dear(24))
    if number not in snapshot.parts:
        twin = msgspec.structs.replace(snapshot.parts[SHORT], number=number)
        snapshot = msgspec.structs.replace(snapshot, parts=dict(sorted({**snapshot.parts, number: twin}.items())))
    assert bolts(ask(snapshot).options[0]) == {shorter}


def test_a_set_in_doubt_is_taken_only_where_none_that_holds_makes_an_option(demo: Snapshot) -> None:
    """The shortest is made doubtful and the cheapest: still one that holds for certain is taken."""
    length = demo.parts[SHORT].measures["length"]
    vague = {"measures": {**demo.parts[SHORT].measures, "length": msgspec.structs.replace(length, minus=9_000_000)}}
    snapshot = with_sets(demo, FS_8_50=vague | dear(1))
    answer = ask(snapshot)
    assert answer.verdict == "fits"
    assert bolts(answer.options[0]) == {LONG}
    others = sorted(number for number in demo.parts if number.startswith(("FS-8-", "BK-")) and number != SHORT)
    doubtful = ask(snapshot, must={"without": others})
    assert doubtful.verdict == "measure_first"
    assert bolts(doubtful.options[0]) == {SHORT}
    # The same where those that hold are beyond what may be spent.
    too_dear = ask(snapshot, must={"price_at_most": {"amount": 260, "currency": "USD"}})
    assert too_dear.verdict == "measure_first"
    assert bolts(too_dear.options[0]) == {SHORT}
    # A doubt elsewhere brings no bolts in doubt with it.
    elsewhere = ask(snapshot, accessory_drive=_vague_drive())
    assert elsewhere.verdict == "measure_first"
    assert SHORT not in bolts(elsewhere.options[0])


def _vague_drive() -> dict[str, Any]:
    return {
        "name": "my drive",
        "attributes": {"ribs": 6, "rotation": "clockwise"},
        "measures": {"belt_plane": {"value": "141.7 mm", "plus_minus": "3 mm"}},
    }
