"""Whatever is done to a catalog, in whatever order: a release that is published never changes its answers.

`BELTPLANE_TEST_EFFORT=20 .venv/bin/pytest tests/catalog/test_any_sequence.py` tries twenty times as many sequences.
"""

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import msgspec
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from catalog.database import open_read_only, reading
from catalog.publish import CatalogFaults
from catalog.reader import read_snapshot
from catalog.releases import WithdrawnRelease, find_release, list_releases
from catalog.units import NM_PER_MM
from service.fit import engine
from service.fit.build import Build
from service.fit.graph import ConstraintGraph
from tests.catalog.conftest import new_schema
from tests.support import CatalogFolder, Edit, effort, small_edits

MILLIMETRES = st.integers(1, 40)
CENTS = st.integers(100, 99_999)


class Spacer(msgspec.Struct, frozen=True):
    """What the model knows of a part: a spacer for the small catalog's pump."""

    thickness: int
    price: int
    retired: bool = False

    def fields(self) -> dict[str, Any]:
        return {"measures": {"thickness": f"{self.thickness} mm"}, "price": f"{self.price / 100:.2f} USD"}


State = dict[str, Spacer]


class AnySequence(RuleBasedStateMachine):
    """Add, revise, retire, publish, revert, downgrade, upgrade again, ask; `url` makes an empty database."""

    def __init__(self, url: Callable[[Path], str]) -> None:
        super().__init__()
        self.temporary = TemporaryDirectory()
        folder = Path(self.temporary.name)
        self.catalog = CatalogFolder(folder / "migrations", url(folder))
        self.now: State = {}
        """What the next release will say."""
        self.staged: dict[str, Edit] = {}
        self.said: dict[int, State] = {}
        """What each release says, by number, and what it answered on the day that it was published."""
        self.answered: dict[int, bytes] = {}
        self.published: list[int] = []
        self.withdrawn: list[int] = []
        self.used = 0

    def teardown(self) -> None:
        self.temporary.cleanup()

    @initialize()
    def start(self) -> None:
        self.put_out(small_edits())

    def put_out(self, edits: list[Edit]) -> None:
        """Publish a release under the next number that was never used, in place of what was withdrawn."""
        for number in self.withdrawn:
            (self.catalog.folder / f"test_{number:04}.py").unlink(missing_ok=True)
        self.used += 1
        self.catalog.publish(*edits, number=self.used)
        self.published.append(self.used)
        self.said[self.used] = dict(self.now)
        self.answered[self.used] = self.answer(self.used)
        self.staged = {}

    def answer(self, number: int) -> bytes:
        """All that a release says, and what the engine makes of it."""
        reader = open_read_only(self.catalog.url)
        with reading(reader) as connection:
            snapshot = read_snapshot(connection, number)
        reader.dispose()
        assert {
            part.number: Spacer(
                part.measures["thickness"].nominal // NM_PER_MM,
                part.price.amount if part.price is not None else 0,
                part.status == "retired",
            )
            for part in snapshot.parts.values()
            if part.number.startswith("SP-")
        } == self.said[number]
        assert len(snapshot.parts) == len(self.said[number]) + 5
        answer = engine.fit(ConstraintGraph(snapshot), Build(engine="E-1"))
        return msgspec.json.encode([snapshot, answer], enc_hook=str)

    def pick(self, data: st.DataObject) -> str | None:
        """A part that may be edited: offered, and not edited yet in this release."""
        found = [part for part, spacer in self.now.items() if not spacer.retired and part not in self.staged]
        return data.draw(st.sampled_from(found)) if found else None

    @rule(thickness=MILLIMETRES, price=CENTS)
    def add(self, thickness: int, price: int) -> None:
        number = f"SP-{len(self.now) + 1}"
        ports = [
            {"name": "rear", "role": "mount", "connection": "alder_block", "end": "pump"},
            {"name": "front", "role": "pump_face", "connection": "alder_block", "end": "block"},
        ]
        self.now[number] = Spacer(thickness, price)
        edit = {"edit": "add_part", "number": number, "kind": "spacer", "name": "Spacer", "ports": ports}
        self.staged[number] = edit | self.now[number].fields()

    @rule(data=st.data(), thickness=MILLIMETRES, price=CENTS)
    def revise(self, data: st.DataObject, thickness: int, price: int) -> None:
        number = self.pick(data)
        if number is not None:
            self.now[number] = Spacer(thickness, price)
            self.staged[number] = {"edit": "revise_part", "number": number, **self.now[number].fields()}

    @rule(data=st.data())
    def retire(self, data: st.DataObject) -> None:
        number = self.pick(data)
        if number is not None:
            self.now[number] = msgspec.structs.replace(self.now[number], retired=True)
            self.staged[number] = {"edit": "retire_part", "number": number, "replaced_by": "S-1"}

    @precondition(lambda self: self.staged)
    @rule()
    def publish(self) -> None:
        self.put_out(list(self.staged.values()))

    @precondition(lambda self: not self.staged)
    @rule(data=st.data())
    def revert(self, data: st.DataObject) -> None:
        """A new release that says of every part still offered what an older one said; newer parts are retired."""
        old = self.said[data.draw(st.sampled_from(self.published))]
        edits: list[Edit] = []
        for number, spacer in self.now.items():
            if spacer.retired:
                continue
            if number not in old:
                self.now[number] = msgspec.structs.replace(spacer, retired=True)
                edits.append({"edit": "retire_part", "number": number})
            elif (old[number].thickness, old[number].price) != (spacer.thickness, spacer.price):
                self.now[number] = msgspec.structs.replace(old[number], retired=False)
                edits.append({"edit": "revise_part", "number": number, **self.now[number].fields()})
        self.put_out(edits or [{"edit": "revise_part", "number": "P-1", "name": f"Pump {self.used}"}])

    @precondition(lambda self: len(self.published) > 1)
    @rule()
    def downgrade(self) -> None:
        self.catalog.downgrade(self.published[-2])
        self.withdrawn.append(self.published.pop())
        self.now, self.staged = dict(self.said[self.published[-1]]), {}

    @precondition(lambda self: self.withdrawn and self.withdrawn[-1] > self.published[-1])
    @rule()
    def upgrade_again(self) -> None:
        """What was withdrawn comes back just as it was, where its migrations are still there."""
        there = [n for n in self.withdrawn if (self.catalog.folder / f"test_{n:04}.py").exists()]
        self.catalog.upgrade()
        for number in sorted(there):
            self.withdrawn.remove(number)
            self.published.append(number)
        self.now, self.staged = dict(self.said[self.published[-1]]), {}

    @precondition(lambda self: self.withdrawn and self.withdrawn[-1] > self.published[-1])
    @rule()
    def take_a_withdrawn_number_for_something_else(self) -> None:
        number = self.withdrawn[-1]
        kept = {path: path.read_text() for path in self.catalog.folder.glob("test_*.py")}
        for path in kept:
            if int(path.stem.removeprefix("test_")) > self.published[-1]:
                path.unlink()
        with pytest.raises(CatalogFaults, match="was withdrawn and may be published again only as it was"):
            self.catalog.publish({"edit": "revise_part", "number": "P-1", "name": "Something else"}, number=number)
        for path, text in kept.items():
            path.write_text(text)

    @rule(data=st.data())
    def ask(self, data: st.DataObject) -> None:
        number = data.draw(st.sampled_from(self.published))
        assert self.answer(number) == self.answered[number]

    @invariant()
    def every_published_release_is_there_and_no_withdrawn_one(self) -> None:
        if not self.published:
            return
        reader = open_read_only(self.catalog.url)
        with reading(reader) as connection:
            assert [release.number for release in list_releases(connection)] == self.published
            for number in self.published:
                assert read_snapshot(connection, number).release.digest == self.catalog.digests[number]
            for number in self.withdrawn:
                with pytest.raises(WithdrawnRelease):
                    find_release(connection, number)
        reader.dispose()


def sequences(url: Callable[[Path], str], examples: int) -> None:
    class Here(AnySequence):
        def __init__(self) -> None:
            super().__init__(url)

    run_state_machine_as_test(Here, settings=settings(max_examples=examples * effort(), stateful_step_count=15))


def test_any_sequence_in_sqlite() -> None:
    sequences(lambda folder: f"sqlite:///{folder / 'catalog.db'}", 8)


def test_any_sequence_in_postgresql(postgres_server: str) -> None:
    sequences(lambda _: new_schema(postgres_server), 2)
