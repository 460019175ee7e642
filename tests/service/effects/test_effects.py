"""The effects of a release: against every part of its edits tried out, and the same on any executor."""

import multiprocessing
import warnings
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from itertools import combinations
from tempfile import TemporaryDirectory
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalog.domain import Snapshot
from catalog.migrate import ROOT, upgrade
from service.api.live import Live
from service.effects.causes import Causes, fewest
from service.effects.edits import Edit, edits_between, with_edits
from service.effects.effects import Effects, effects_of, every_build
from service.effects.outcome import changes_between, outcome_of
from service.effects.report import edit_text, report
from service.fit import engine
from service.fit.build import Build
from service.fit.graph import ConstraintGraph
from tests.support import CatalogFolder, small_edits
from tests.support import Edit as Given

PUMP: Given = next(edit for edit in small_edits() if edit.get("number") == "P-1")


def pump(number: str, money: int) -> Given:
    changed = {"number": number, "name": f"Pump {number}", "price": f"{money}.00 USD", "recommended": False}
    return {name: value for name, value in (PUMP | changed).items() if name != "aliases"}


def drive(number: str, plane: int) -> Given:
    return {
        "edit": "add_part",
        "number": number,
        "kind": "accessory_drive",
        "name": f"Drive at {plane} mm",
        "attributes": {"ribs": 6, "profile": "PK", "belt_side": "ribbed"},
        "measures": {"belt_plane": f"{plane} mm", "shortest_span": "210 mm"},
    }


RELEASES: tuple[tuple[Given, ...], ...] = (
    (
        *(edit | ({"price": "9.00 USD"} if edit.get("number") in ("F-1", "S-1") else {}) for edit in small_edits()),
        pump("P-2", 120),
        pump("P-3", 90),
        drive("D-1", 147),
        drive("D-2", 158),
        drive("D-3", 190),
    ),
    # Another first option by one edit, its price by two, an answer by one; and two edits that change nothing.
    (
        {"edit": "revise_part", "number": "P-1", "recommended": False},
        {"edit": "revise_part", "number": "P-3", "price": "91.00 USD"},
        {"edit": "revise_part", "number": "D-3", "measures": {"belt_plane": "147 mm"}},
        {"edit": "revise_part", "number": "P-2", "name": "Pump of old"},
        {"edit": "revise_connection", "name": "alder_block", "title": "Pump face of the Alder"},
    ),
    # An answer by a part that is new.
    (
        {
            "edit": "add_part",
            "number": "F-2",
            "kind": "fastener_set",
            "name": "Bolts M8 x 55",
            "attributes": {"thread": "M8x1.25", "pieces": 8},
            "measures": {"length": "55 mm"},
        },
        {"edit": "revise_part", "number": "P-2", "price": "20.00 USD"},
        {"edit": "retire_part", "number": "P-3", "replaced_by": "P-1"},
        {"edit": "revise_part", "number": "P-1", "price": "19.00 USD"},
        pump("P-4", 300),
    ),
)


@pytest.fixture(scope="module")
def snapshots(tmp_path_factory: pytest.TempPathFactory) -> list[Snapshot]:
    folder = tmp_path_factory.mktemp("effects")
    catalog = CatalogFolder(folder / "migrations", f"sqlite:///{folder / 'catalog.db'}")
    for edits in RELEASES:
        catalog.publish(*edits)
    live = Live(catalog.url)
    found = [live.graph(str(number)).snapshot for number in range(1, len(RELEASES) + 1)]
    live.close()
    return found


def of(found: Effects) -> dict[tuple[str, ...], list[str]]:
    """The edits by drive and changes."""
    return {
        (str(effect.build.accessory_drive), *cause.changes): [edit_text(edit) for edit in cause.edits]
        for effect in found.effects
        for cause in effect.causes
    }


def test_each_change_is_traced_to_the_edit_that_did_it(snapshots: list[Snapshot]) -> None:
    first, second, third = snapshots
    builds = every_build(first, second)
    assert [build.accessory_drive for build in builds] == ["D-1", "D-2", "D-3"]
    found = effects_of(first, second, builds)
    assert (found.builds, found.undecided, found.refused, len(found.edits)) == (3, 0, 0, 5)
    told = of(found)
    moved = (
        "part D-3 revised: measure belt plane 190 mm (+0.1 mm -0.1 mm), drawing, now 147 mm (+0.1 mm -0.1 mm), drawing"
    )
    assert told["D-3", "gained"] == [moved]
    recommended = "part P-1 revised: recommended yes, now no"
    assert told["D-1", "first_option"] == [recommended]
    assert told["D-1", "price"] == [recommended, "part P-3 revised: price 90.00 USD, now 91.00 USD"]
    assert len(told) == 3
    back = of(effects_of(second, first, builds))
    assert back["D-3", "lost"] == [moved.replace("190", "0").replace("147", "190").replace(" 0 ", " 147 ")]
    later = of(effects_of(second, third, builds))
    assert later["D-2", "gained"] == ["part F-2 added"]
    assert later["D-1", "first_option", "price"] == ["part P-1 revised: price 149.00 USD, now 19.00 USD"]


def test_the_edits_named_are_enough_and_none_can_be_left_out(snapshots: list[Snapshot]) -> None:
    # Against every part of the edits, tried out one by one.
    for old, new in ((0, 1), (1, 2), (1, 0)):
        before, after = snapshots[old], snapshots[new]
        edits = edits_between(before, after)
        found = effects_of(before, after, every_build(before, after))
        assert found.effects
        for effect in found.effects:
            tried = {some: outcome(before, after, some, effect.build) for some in parts_of(edits)}
            assert tried[()] == effect.before
            assert tried[edits] == effect.after
            for cause in effect.causes:
                assert cause.least
                for change in cause.changes:
                    does = {some for some, one in tried.items() if one is not None and one.agrees(effect.after, change)}
                    assert cause.edits in does
                    assert not {some for some in does if len(some) < len(cause.edits) and {*some} < {*cause.edits}}


def parts_of(edits: tuple[Edit, ...]) -> Iterator[tuple[Edit, ...]]:
    return (some for size in range(len(edits) + 1) for some in combinations(edits, size))


def outcome(before: Snapshot, after: Snapshot, edits: tuple[Edit, ...], build: Build) -> Any:
    try:
        return outcome_of(ConstraintGraph(with_edits(before, after, edits)), build)
    except Exception:
        return None


def test_the_outcome_is_what_the_engine_answers() -> None:
    snapshot = demo()
    graph = ConstraintGraph(snapshot)
    builds = every_build(snapshot)[::37]
    builds += [Build(engine="ENG-R20", accessory_drive="DR-541", radiator="RD-30", heater="none", fan="FN-E40")]
    for build in builds:
        answer, found = engine.fit(graph, build), outcome_of(graph, build)
        assert (found.verdict, found.decided) == (answer.verdict, True)
        if answer.options:
            first = answer.options[0]
            assert (found.pump, found.plates, found.price) == (first.pump, first.plates, first.buy_price)
            assert [(piece.part, piece.quantity) for piece in found.parts] == [
                (line.part, line.quantity) for line in first.parts_list
            ]


def demo() -> Snapshot:
    with TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/catalog.db"
        upgrade(url, ROOT / "migrations" / "demo")
        live = Live(url)
        snapshot = live.graph().snapshot
        live.close()
    return snapshot


def test_all_edits_together_are_the_later_release(snapshots: list[Snapshot]) -> None:
    for before in snapshots:
        for after in snapshots:
            assert with_edits(before, after, edits_between(before, after)) == after
            assert edits_between(before, before) == ()


def test_what_changes_is_what_the_engine_answers(snapshots: list[Snapshot]) -> None:
    first, _, third = snapshots
    builds = [*every_build(first, third), Build(engine="E-1", pump="P-4"), Build(engine="E-9"), Build(engine="E-1")]
    found = effects_of(first, third, builds)
    told = {msgspec.json.encode(effect.build): effect.changes for effect in found.effects}
    for build in builds:
        this, that = (outcome_of(ConstraintGraph(one), build) for one in (first, third))
        assert told.get(msgspec.json.encode(build), ()) == changes_between(this, that)
    assert told[msgspec.json.encode(builds[3])] == ("gained",), "P-4 was not there before"
    assert found.refused == 1


@given(
    size=st.integers(1, 40),
    chosen=st.sets(st.integers(0, 39), min_size=1, max_size=5),
)
def test_fewest_finds_the_very_edits_that_are_needed(size: int, chosen: set[int]) -> None:
    # Zeller and Hildebrandt 2002, section 3.3: where more edits never undo it, the result is the one least set.
    edits = tuple(Edit("part", f"P-{number}", "added") for number in range(size))
    needed = {edits[number % size] for number in chosen}

    def does(some: Sequence[Edit]) -> bool:
        return needed <= set(some)

    found, least = fewest(edits, does, lambda: True)
    assert least
    assert set(found) == needed
    tries = iter(range(10))
    found, least = fewest(edits, does, lambda: next(tries, None) is not None)
    assert needed <= set(found)
    assert not least or set(found) == needed


def test_a_cause_is_the_same_when_it_is_known(snapshots: list[Snapshot]) -> None:
    before, after = snapshots[1], snapshots[2]
    build = Build(engine="E-1")
    causes = Causes(before, after)
    this, that = (outcome_of(ConstraintGraph(one), build) for one in (before, after))
    found = causes.of(build, this, that)
    assert found
    assert causes.of(build, this, that) == found, "known causes are tried first, and change nothing"
    for cause in found:
        assert cause.least
        for change in cause.changes:
            assert outcome(before, after, cause.edits, build).agrees(that, change)


def dask_executor() -> Iterator[Executor]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from distributed import Client, LocalCluster

        cluster: Any = LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=2, threads_per_worker=1, dashboard_address=None
        )
        client: Any = Client(cluster)  # type: ignore[no-untyped-call]
        with cluster, client:
            yield client.get_executor()


def process_executor() -> Iterator[Executor]:
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as executor:
        yield executor


def thread_executor() -> Iterator[Executor]:
    with ThreadPoolExecutor(2) as executor:
        yield executor


@pytest.mark.parametrize("make", [process_executor, thread_executor, dask_executor])
def test_any_executor_does_the_same_work(snapshots: list[Snapshot], make: Any) -> None:
    first, _, third = snapshots
    builds = [
        Build(engine="E-1", accessory_drive=f"D-{place % 3 + 1}", have=["G-1"] * (place // 3)) for place in range(24)
    ]
    alone = effects_of(first, third, builds)
    assert alone.effects
    done: list[tuple[int, int]] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for executor in make():
            found = effects_of(first, third, builds, executor, lambda *counts: done.append(counts))
    assert found == alone
    assert msgspec.json.encode(found) == msgspec.json.encode(alone)
    assert done == [(0, 24), (8, 24), (16, 24), (24, 24)]


def test_the_report_tells_all_of_it_in_words(snapshots: list[Snapshot]) -> None:
    first, second, _ = snapshots
    found = effects_of(first, second, every_build(first, second))
    text = report(found)
    assert text.startswith(
        "From release 1 (release-1) to 2 (release-2): 5 edits, 3 builds compared, 2 changed.\n"
        "  1 with an answer that had none\n"
        "  1 with another first option\n"
        "  1 at another price\n"
    )
    assert "    E-1, D-3: nothing fits, now P-3\n" in text
    assert "By these together\n  part P-1 revised: recommended yes, now no\n  part P-3 revised" in text
    assert "    and 1 more build by the same\n" in report(effects_of(first, second, every_build(first) * 2), shown=1)
    assert max(map(len, text.splitlines())) < 200
    nothing = report(effects_of(first, first, every_build(first)))
    assert nothing == "From release 1 (release-1) to 1 (release-1): 0 edits, 3 builds compared, 0 changed.\n"
