"""What a change of the question or of the catalog may do to the answer, and what it may never do.

No oracle is needed: two answers of the engine are held against each other. Of each answer only what it offers is
compared (pumps with their plates, each with its verdict), or every byte of it. Answers that were cut off at the most
options listed say nothing of what is missing, and are passed over.
"""

import re
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

import msgspec
import pytest
import sqlalchemy as sa
from msgspec import UNSET
from msgspec.structs import replace

from catalog import tables
from catalog.database import open_read_only, reading
from catalog.domain import Connection, Measure, Part, Rule, RuleKind, Snapshot
from catalog.making import Rows, snapshot_from
from catalog.migrate import upgrade
from catalog.reader import digest_of, read_snapshot, rows_at
from catalog.vocabulary import SETTLED_BY_TEST
from service.api import render
from service.fit.answer import Answer
from service.fit.build import Build, Described
from service.fit.engine import fit
from service.fit.graph import ConstraintGraph
from tests.oracles import circuit_generator, generator
from tests.oracles.generator import Case

ROOT = Path(__file__).parents[3]
MOST = 50
PLACES = [("place", seed) for seed in range(40_000, 40_110)]
"""Cases of pumps, plates, drives and covers."""
CIRCUITS = [("circuit", seed) for seed in range(40_000, 40_030)]
"""Cases whose coolant must find its way too."""
SEEDS = PLACES + CIRCUITS
RUN_TWICE = PLACES[:25] + CIRCUITS[:8]
Name = tuple[str, int]
Path_ = tuple[str, tuple[str, ...]]


@cache
def case_of(name: Name) -> Case:
    makers = {"place": generator.seeded_case, "circuit": circuit_generator.seeded_case}
    return makers[name[0]](name[1])


def ask(case: Case) -> Answer:
    assert (case.build.limit, case.build.paths_per_pump) == (MOST, MOST)
    return fit(ConstraintGraph(case.snapshot), case.build, diagnose=False)


@cache
def answer_to(name: Name) -> Answer:
    return ask(case_of(name))


def offered(answer: Answer) -> dict[Path_, str] | None:
    """The verdict of each pump with its plates; None where not everything is listed."""
    if len(answer.options) == MOST or not answer.decided:
        return None
    return {(option.pump, tuple(sorted(option.plates))): option.verdict for option in answer.options}


def told(answer: Answer, snapshot: Snapshot) -> bytes:
    """The whole answer as it is sent, sentences and all."""
    manner = render.Manner(units="mm", detail="full", currency=snapshot.currency)
    return msgspec.json.encode(render.answer(answer, snapshot.release, manner), order="deterministic")


def told_of(case: Case) -> bytes:
    return told(ask(case), case.snapshot)


def both(name: Name, changed: Case) -> tuple[dict[Path_, str], dict[Path_, str]] | None:
    """What is offered before and after a change; None where either is not all listed."""
    before, after = offered(answer_to(name)), offered(ask(changed))
    return None if before is None or after is None else (before, after)


@dataclass
class Count:
    """How often something was tried, and how often it made a difference: a law about nothing is not tested."""

    tried: int = 0
    mattered: int = 0

    def note(self, mattered: bool) -> None:
        self.tried += 1
        self.mattered += mattered


# --- one rule more -------------------------------------------------------------------------------------------


def with_rule(snapshot: Snapshot, rule: Rule) -> Snapshot:
    rules = sorted([*snapshot.rules, rule], key=lambda one: one.name)
    return Snapshot(snapshot.release, snapshot.currency, snapshot.parts, snapshot.connections, tuple(rules))


def numbers_of(case: Case, *slots: Any) -> list[str]:
    """The catalog's parts among what fields of the build name."""
    return [part.number for slot in slots if (part := case.snapshot.find(str(slot))) is not None]


def rule_against(name: Name, kind: RuleKind, random: Random) -> Rule | None:
    """A rule of this kind about what some option holds, so that it is likely to say something."""
    case, answer = case_of(name), answer_to(name)
    if not answer.options:
        return None
    option, parts = random.choice(answer.options), case.snapshot.parts
    listed = [line.part for line in option.parts_list if line.part in parts]
    own = numbers_of(case, case.build.engine, case.build.accessory_drive, case.build.front_cover)
    subject, others = random.choice([*listed, *listed, *own, option.pump]), list[str]()
    if kind == "tested_no_fit":
        subject, others = option.pump, [*option.plates, *own[: random.randint(0, len(own))]]
    else:
        # What a rule of the asker's own radiator, heater or fan means is not laid down.
        any_part = [one for one in parts if parts[one].kind not in ("radiator", "heater_core", "fan")]
        others = random.choices(any_part if kind == "requires" else [*listed, *own], k=random.choice((1, 1, 2)))
    if subject not in parts or subject in others or not others:
        return None
    return Rule(random.choice(("aa_added", "zz_added")), kind, subject, tuple(others))


@pytest.mark.parametrize("kind", ["requires", "excludes", "tested_no_fit"])
def test_a_rule_against_never_adds_an_option(kind: RuleKind) -> None:
    wrong, count = {}, Count()
    for name in SEEDS:
        random = Random(f"{name} {kind}")
        rule = rule_against(name, kind, random)
        if rule is None:
            continue
        pair = both(name, replace(case_of(name), snapshot=with_rule(case_of(name).snapshot, rule)))
        if pair is None:
            continue
        before, after = pair
        count.note(before != after)
        if not set(after) <= set(before):
            wrong[name] = rule, sorted(set(after) - set(before))
    assert wrong == {}
    assert count.mattered >= 15, count


def rule_in_favour(name: Name, random: Random) -> Rule | None:
    """That some pump, more often one that is ruled out, was tested with the build's own parts."""
    case, answer = case_of(name), answer_to(name)
    misses: list[tuple[str, tuple[str, ...]]] = [(one.pump, one.plates) for one in answer.ruled_out] * 3
    pump, plates = random.choice([*misses, *[(option.pump, option.plates) for option in answer.options]] or [("", ())])
    own = numbers_of(case, case.build.accessory_drive, case.build.front_cover, case.build.crank_pulley)
    others = (*plates, *own)
    if pump not in case.snapshot.parts or not others:
        return None
    return Rule(random.choice(("aa_added", "zz_added")), "tested_fit", pump, others, SETTLED_BY_TEST, "bench")


def test_a_tested_fit_never_removes_an_option() -> None:
    wrong, count = {}, Count()
    for name in SEEDS:
        rule = rule_in_favour(name, Random(f"{name} tested_fit"))
        if rule is None:
            continue
        pair = both(name, replace(case_of(name), snapshot=with_rule(case_of(name).snapshot, rule)))
        if pair is None:
            continue
        before, after = pair
        count.note(before != after)
        worse = [path for path, verdict in before.items() if verdict == "ok" and after.get(path) != "ok"]
        if not set(before) <= set(after) or worse:
            wrong[name] = rule, sorted(set(before) - set(after)), worse
    assert wrong == {}
    assert count.mattered >= 8, count


# --- closer tolerances ---------------------------------------------------------------------------------------


def tightened(measure: Measure, random: Random) -> Measure:
    """The measure known better: an interval about the same middle, within the old one.

    Where the tolerances are unequal the nominal moves no farther than it must to stay in it. A bolt is called by its
    length, which is left.
    """
    most = (measure.plus + measure.minus) // 2
    if most == 0 or measure.name.startswith("length"):
        return measure
    by = random.choice((most, random.randint(1, most)))
    low, high = measure.low + by, measure.high - by
    nominal = min(max(measure.nominal, low), high)
    return replace(measure, nominal=nominal, plus=high - nominal, minus=nominal - low)


def tightened_part(part: Part, random: Random) -> Part:
    measures = {
        name: tightened(measure, random) if random.random() < 0.6 else measure
        for name, measure in part.measures.items()
    }
    return replace(part, measures=measures)


def tightened_build(build: Build, random: Random) -> Build:
    """Half of the asker's own readings and descriptions without a doubt."""
    fields: dict[str, Any] = {
        "measured": [replace(one, plus_minus="0 mm") if random.random() < 0.5 else one for one in build.measured]
    }
    for slot in ("engine", "accessory_drive", "front_cover", "pump", "pulley", "crank_pulley"):
        described = getattr(build, slot)
        if isinstance(described, Described):
            measures = {
                name: replace(one, plus_minus="0 mm") if random.random() < 0.5 else one
                for name, one in described.measures.items()
            }
            fields[slot] = replace(described, measures=measures)
    return replace(build, **fields)


def test_a_closer_tolerance_turns_no_ok_into_anything_else() -> None:
    wrong, count, readings = {}, Count(), Count()
    for name in [*SEEDS, *(("place", seed) for seed in range(41_000, 41_320))]:
        random, case = Random(f"{name} tolerance"), case_of(name)
        first = answer_to(name)
        before = offered(first)
        if not before or "ok" not in before.values():
            continue
        parts = {number: tightened_part(part, random) for number, part in case.snapshot.parts.items()}
        snapshot = Snapshot(
            case.snapshot.release, case.snapshot.currency, parts, case.snapshot.connections, case.snapshot.rules
        )
        build = tightened_build(case.build, random)
        again = ask(Case(snapshot, build))
        after = offered(again)
        # What is known better may contradict a reading that went with it before: another part, then, not a closer one.
        if after is None or {one.part for one in again.challenged} != {one.part for one in first.challenged}:
            continue
        count.note(before != after)
        readings.note(build != case.build)
        lost = [path for path, verdict in before.items() if verdict == "ok" and after.get(path) != "ok"]
        if lost:
            wrong[name] = lost
    assert wrong == {}
    assert count.mattered >= 10, count
    assert readings.mattered >= 10, readings


# --- fewer requirements --------------------------------------------------------------------------------------

FIELDS = (
    "accessory_drive",
    "front_cover",
    "pump",
    "pulley",
    "crank_pulley",
    "radiator",
    "radiator_ports",
    "core_distance",
    "heater",
    "fan",
)
MUST = ("outlet_side", "outlet_direction", "work_at_most", "price_at_most")


def with_fewer(build: Build) -> Iterator[tuple[str, Build]]:
    """The build with each of its requirements left out in turn."""
    for field in FIELDS:
        if getattr(build, field) is not UNSET:
            yield field, replace(build, **{field: UNSET})
    for field in MUST:
        if getattr(build.must, field) is not UNSET:
            yield field, replace(build, must=replace(build.must, **{field: UNSET}))
    for place in range(len(build.must.without)):
        rest = [*build.must.without[:place], *build.must.without[place + 1 :]]
        yield f"without {build.must.without[place]}", replace(build, must=replace(build.must, without=rest))


def out_of_scope(case: Case, field: str) -> bool:
    """Where the design says otherwise, so that leaving a field out may take an option away.

    A part that only the build brings into question (described, or no longer sold) goes with its field. A tested fit
    holds for its very combination, so for none of which a part is left out.
    """
    build, snapshot = case.build, case.snapshot
    named = getattr(build, field, UNSET)
    if isinstance(named, Described):
        return field in ("pump", "pulley")
    part = snapshot.find(named) if isinstance(named, str) else None
    if part is None:
        return False
    tested = any(rule.kind == "tested_fit" and part.number in rule.others for rule in snapshot.rules)
    return (field in ("pump", "pulley") and part.status == "retired") or (
        field in ("accessory_drive", "front_cover", "crank_pulley", "pulley") and tested
    )


def test_a_requirement_left_out_removes_no_option() -> None:
    wrong, count = {}, dict[str, Count]()
    for name in SEEDS:
        case = case_of(name)
        for field, build in with_fewer(case.build):
            if out_of_scope(case, field):
                continue
            pair = both(name, replace(case, build=build))
            if pair is None:
                continue
            before, after = pair
            count.setdefault(field.split()[0], Count()).note(before != after)
            if not set(before) <= set(after):
                wrong[name, field] = sorted(set(before) - set(after))
    assert wrong == {}
    assert set(count) == {*FIELDS, *MUST, "without"}
    never = {field for field, one in count.items() if one.mattered == 0}
    assert never == set(), count


# --- less that is known --------------------------------------------------------------------------------------

NEEDED = {
    # Measures whose absence says nothing but that they are not known. Others mean something by not being there: a plate
    # without holes is bolted through, a drive without its span takes the stated one, a cover has no zone it does not
    # name.
    "engine": ("hole_depth", "crank_face"),
    "water_pump": ("belt_plane", "hub_face", "cover_room", "flange_thickness", "carrier_face", "nose"),
    "accessory_drive": ("belt_plane", "carried_offset", "nose"),
    "front_cover": ("cover_height",),
    "crank_pulley": ("offset",),
    "pulley": ("offset",),
    "fan": ("depth", "depth_behind"),
}
SLOT_KINDS = {"engine": "engine", "pump": "water_pump", "fan": "fan"} | {
    kind: kind for kind in ("accessory_drive", "front_cover", "crank_pulley", "pulley")
}


def with_less(case: Case, random: Random) -> Iterator[Case]:
    """The case with one measure of a part fewer, once of a part of the catalog and once of each described one."""
    parts = case.snapshot.parts
    having = sorted(
        (number, name)
        for number, part in parts.items()
        for name in part.measures
        if name in NEEDED.get(part.kind, ()) and not _means_more(part.measures, name)
    )
    for number, name in random.sample(having, min(3, len(having))):
        part = parts[number]
        rest = {other: measure for other, measure in part.measures.items() if other != name}
        # A retired part goes on stating it, so that it is not what nobody states.
        kept = replace(part, number="ZZ-KEPT", aliases=(), status="retired")
        less = {**parts, number: replace(part, measures=rest), kept.number: kept}
        snapshot = Snapshot(
            case.snapshot.release, case.snapshot.currency, less, case.snapshot.connections, case.snapshot.rules
        )
        read = any(case.snapshot.find(one.part) == part for one in case.build.measured)
        if not read:
            yield replace(case, snapshot=snapshot)
    for slot, kind in SLOT_KINDS.items():
        described = getattr(case.build, slot)
        if isinstance(described, Described):
            for name in sorted(described.measures):
                if name in NEEDED[kind] and not _means_more(described.measures, name):
                    stated = {other: reading for other, reading in described.measures.items() if other != name}
                    yield replace(case, build=replace(case.build, **{slot: replace(described, measures=stated)}))


def _means_more(measures: Any, name: str) -> bool:
    """Whether another measure of the part takes its place, so that it is not simply missing."""
    return name in ("cover_height", "belt_plane") and any(
        other.startswith(f"{name}.") or other == "pulley_front" for other in measures
    )


def test_a_measure_left_out_makes_nothing_ok() -> None:
    wrong, count = {}, Count()
    for name in SEEDS:
        before = offered(answer_to(name))
        if before is None:
            continue
        for place, less in enumerate(with_less(case_of(name), Random(f"{name} less"))):
            after = offered(ask(less))
            if after is None:
                continue
            count.note(before != after)
            better = [path for path, verdict in after.items() if verdict == "ok" and before.get(path) != "ok"]
            if better:
                wrong[name, place] = better
    assert wrong == {}
    assert count.mattered >= 20, count


# --- other names ---------------------------------------------------------------------------------------------


def new_numbers(snapshot: Snapshot) -> dict[str, str]:
    """Another number for every part, in the same order, so that what ties by number still ties the same way."""
    return {number: f"N{place:04}" for place, number in enumerate(sorted(snapshot.parts), 1)}


class Renamer:
    """A case with every part's number, aliases and name changed, wherever they stand."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self.numbers = new_numbers(case.snapshot)
        longest_first = sorted(self.numbers, key=len, reverse=True)
        self.pattern = re.compile(rf"(?<![\w-])({'|'.join(map(re.escape, longest_first))})(?![\w-])")

    def text(self, text: str) -> str:
        return self.pattern.sub(lambda found: self.numbers[found[1]], text)

    def optional(self, number: str | None) -> str | None:
        return None if number is None else self.numbers[number]

    def renamed(self) -> Case:
        snapshot = self.case.snapshot
        parts = {self.numbers[part.number]: self._part(part) for part in snapshot.parts.values()}
        connections = {name: self._connection(one) for name, one in snapshot.connections.items()}
        rules = tuple(
            replace(rule, part=self.numbers[rule.part], others=tuple(self.numbers[other] for other in rule.others))
            for rule in snapshot.rules
        )
        return Case(Snapshot(snapshot.release, snapshot.currency, parts, connections, rules), self._build())

    def _part(self, part: Part) -> Part:
        number = self.numbers[part.number]
        return replace(
            part,
            number=number,
            name=self.text(part.name),
            aliases=tuple(f"alias-{number}-{place}" for place in range(len(part.aliases))),
            attributes={
                name: self.numbers.get(value, value) if isinstance(value, str) else value
                for name, value in part.attributes.items()
            },
            ports=tuple(replace(port, gasket=self.optional(port.gasket)) for port in part.ports),
        )

    def _connection(self, connection: Connection) -> Connection:
        return replace(connection, gasket=self.optional(connection.gasket))

    def _reference(self, said: Any) -> Any:
        part = self.case.snapshot.find(said) if isinstance(said, str) else None
        return said if part is None else self.numbers[part.number]

    def _build(self) -> Build:
        build = self.case.build
        slots = ("engine", *(field for field in FIELDS if field not in ("radiator_ports", "core_distance")))
        return replace(
            build,
            **{slot: self._reference(getattr(build, slot)) for slot in slots},
            have=[self._reference(one) for one in build.have],
            measured=[replace(one, part=self._reference(one.part)) for one in build.measured],
            must=replace(build.must, without=[self._reference(one) for one in build.must.without]),
        )


def test_other_part_numbers_change_only_names() -> None:
    """Every byte of the answer, its sentences too, but for the numbers and the names that hold them."""
    wrong = []
    for name in SEEDS:
        renamer = Renamer(case_of(name))
        before = renamer.text(told(answer_to(name), renamer.case.snapshot).decode())
        after = told_of(renamer.renamed()).decode()
        if before != after:
            wrong.append(name)
    assert wrong == []
    assert sum(len(answer_to(name).options) for name in SEEDS) > 5 * len(SEEDS) // 2


# --- another order -------------------------------------------------------------------------------------------


def json_text(value: object) -> str:
    return msgspec.json.encode(value).decode()


def rows_of(snapshot: Snapshot) -> dict[str, list[tuple[Any, ...]]]:
    """The rows that say what a snapshot says."""
    parts = list(snapshot.parts.values())
    return {
        "part": [(p.number, p.kind, p.name, p.status, p.recommended) for p in parts],
        "alias": [(alias, p.number) for p in parts for alias in p.aliases],
        "port": [(p.number, *msgspec.structs.astuple(port)) for p in parts for port in p.ports],
        "band": [
            (p.number, place, *msgspec.structs.astuple(band)) for p in parts for place, band in enumerate(p.bands)
        ],
        "measure": [(p.number, *msgspec.structs.astuple(one)) for p in parts for one in p.measures.values()],
        "attribute": [(p.number, name, json_text(value)) for p in parts for name, value in p.attributes.items()],
        "cue": [],
        "price": [(p.number, p.price.amount, p.price.currency) for p in parts if p.price is not None],
        "connection": [
            (c.name, c.title, c.sort, json_text(c.ends), c.seal, c.pieces_per_layer, c.gasket, c.bolts, c.size)
            for c in snapshot.connections.values()
        ],
        "rule": [(r.name, r.kind, r.part, json_text(r.others), json_text(r.settles), r.source) for r in snapshot.rules],
    }


def stored(rows: Rows, random: Random | None) -> Rows:
    """What the reader gives of these rows once they stand in tables: in their order, or shuffled."""
    engine = sa.create_engine("sqlite://", poolclass=sa.StaticPool)
    tables.metadata.create_all(engine)
    with engine.begin() as connection:
        for table in tables.VERSIONED:
            names = [str(column.name) for column in tables.content_of(table)]
            lines = [dict(zip(names, row, strict=True), since=1) for row in rows[table.name]]
            if random is not None:
                random.shuffle(lines)
            if lines:
                connection.execute(table.insert(), lines)
        return rows_at(connection, 1)


def same_in_any_order(rows: Rows, ask_it: Callable[[Rows], bytes], random: Random) -> bool:
    in_order, shuffled = stored(rows, None), stored(rows, random)
    return digest_of(in_order) == digest_of(shuffled) and ask_it(in_order) == ask_it(shuffled)


def test_the_order_of_the_catalogs_rows_changes_nothing() -> None:
    wrong = []
    for name in RUN_TWICE:
        case = case_of(name)
        release, currency, build = case.snapshot.release, case.snapshot.currency, case.build

        def ask_it(rows: Rows, release: Any = release, currency: str = currency, build: Build = build) -> bytes:
            return told_of(Case(snapshot_from(rows, release, currency), build))

        if not same_in_any_order(rows_of(case.snapshot), ask_it, Random(f"{name} rows")):
            wrong.append(name)
    assert wrong == []


def turned(value: Any, random: Random) -> Any:
    """The same JSON with the fields of every object in another order."""
    if isinstance(value, dict):
        fields = [(name, turned(one, random)) for name, one in value.items()]
        random.shuffle(fields)
        return dict(fields)
    return [turned(one, random) for one in value] if isinstance(value, list) else value


def test_the_order_of_the_builds_fields_changes_nothing() -> None:
    wrong, other_text = [], 0
    for name in SEEDS:
        case, random = case_of(name), Random(f"{name} fields")
        text = msgspec.json.encode(case.build)
        fields = turned(msgspec.json.decode(text), random)
        for unordered in (
            fields.get("have", []),
            fields.get("measured", []),
            fields.get("must", {}).get("without", []),
        ):
            random.shuffle(unordered)
        build = msgspec.json.decode(msgspec.json.encode(fields), type=Build)
        other_text += msgspec.json.encode(fields) != text
        if told(answer_to(name), case.snapshot) != told_of(replace(case, build=build)):
            wrong.append(name)
    assert wrong == []
    assert other_text > len(SEEDS) // 2


# --- another run ---------------------------------------------------------------------------------------------

DEMO_BUILDS: tuple[dict[str, Any], ...] = (
    msgspec.json.decode((ROOT / "deploy" / "demo-question.json").read_bytes()),
    {"engine": "ENG-R10", "accessory_drive": "DR-528", "front_cover": "FC-R5"},
    {
        "engine": "ENG-R20",
        "accessory_drive": "DR-541",
        "front_cover": "FC-R5",
        "crank_pulley": "CP-541",
        "radiator": "RD-30",
        "core_distance": "270 mm",
        "heater": "none",
        "fan": "FN-E40",
    },
    {
        "engine": "ENG-R10",
        "accessory_drive": "DR-528",
        "front_cover": "FC-R1",
        "pump_drive": "remote",
        "radiator": "RD-90",
        "core_distance": "180 mm",
        "heater": "none",
        "fan": "electric",
    },
)
"""The question that the demo asks, one that nothing fits, and two whole builds."""


def demo_snapshot(url: str) -> Snapshot:
    engine = open_read_only(url)
    try:
        with reading(engine) as connection:
            return read_snapshot(connection)
    finally:
        engine.dispose()


def demo_answers(snapshot: Snapshot, builds: Sequence[dict[str, Any]] = DEMO_BUILDS) -> Iterator[bytes]:
    graph = ConstraintGraph(snapshot)
    for build in builds:
        yield told(fit(graph, msgspec.convert(build, Build)), snapshot)


def write_answers(url: str) -> None:
    """Write, a line each, a string's hash and the answers; what a process of its own is started for."""
    lines = [str(hash("belt")).encode(), *demo_answers(demo_snapshot(url))]
    lines += [told_of(case_of(name)) for name in RUN_TWICE]
    sys.stdout.buffer.write(b"\n".join(lines))


@pytest.fixture(scope="module")
def demo_url(tmp_path_factory: pytest.TempPathFactory) -> str:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'catalog.db'}"
    upgrade(url)
    return url


def test_two_hash_seeds_give_the_same_bytes(demo_url: str) -> None:
    code = f"from tests.service.fit.test_metamorphic import write_answers; write_answers({demo_url!r})"
    runs = [
        subprocess.Popen(
            [sys.executable, "-c", code], cwd=ROOT, env={"PYTHONHASHSEED": seed}, stdout=subprocess.PIPE, text=False
        )
        for seed in ("1", "2")
    ]
    outputs = [run.communicate(timeout=60)[0] for run in runs]
    assert [run.returncode for run in runs] == [0, 0]
    (hash_one, *one), (hash_two, *two) = (output.split(b"\n") for output in outputs)
    assert hash_one != hash_two
    assert len(one) == len(DEMO_BUILDS) + len(RUN_TWICE)
    assert one == two


def test_the_order_of_the_demos_rows_changes_nothing(demo_url: str) -> None:
    engine = open_read_only(demo_url)
    with reading(engine) as connection:
        snapshot = read_snapshot(connection)
        rows = rows_at(connection, snapshot.release.number)
    engine.dispose()

    def ask_it(rows: Rows) -> bytes:
        return b"\n".join(demo_answers(snapshot_from(rows, snapshot.release, snapshot.currency), DEMO_BUILDS[:2]))

    assert same_in_any_order(rows, ask_it, Random(1))
