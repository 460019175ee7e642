"""Made catalogs are whole, repeatable, of the right proportions, and can be published as any other."""

from collections import Counter
from pathlib import Path

import pytest

from catalog.checks import check_snapshot
from catalog.database import open_read_only, reading
from catalog.domain import Kind, Snapshot
from catalog.migrate import upgrade
from catalog.reader import digest_of, read_snapshot, rows_at
from service.fit import engine
from service.fit.graph import ConstraintGraph
from tests.bench.assortment import snapshot
from tests.bench.builds import builds
from tests.bench.published import rows_of, write


@pytest.fixture(scope="module")
def small() -> Snapshot:
    return snapshot(1_000, seed=1, on_face=12)


@pytest.mark.parametrize("parts", [1_000, 10_000])
def test_a_made_catalog_passes_the_checks_of_any_other(parts: int) -> None:
    made = snapshot(parts)
    assert len(made.parts) == parts
    assert check_snapshot(made) == []


def test_a_seed_names_a_catalog(small: Snapshot) -> None:
    digest = digest_of(rows_of(small))
    assert digest == digest_of(rows_of(snapshot(1_000, seed=1, on_face=12)))
    assert digest != digest_of(rows_of(snapshot(1_000, seed=2, on_face=12)))


def test_most_parts_are_hoses_fittings_and_fasteners() -> None:
    made = snapshot(10_000)
    counts = Counter(part.kind for part in made.parts.values())
    assert [kind for kind, _ in counts.most_common(3)] == ["hose", "fitting", "fastener_set"]
    assert set(counts) == set(Kind.__args__)  # type: ignore[attr-defined]
    assert sum(part.number.startswith("WP-000") for part in made.parts.values()) == 400


def test_the_asked_face_does_not_grow_with_the_catalog() -> None:
    def face(parts: int) -> list[object]:
        made = snapshot(parts, on_face=60)
        return [part for number, part in made.parts.items() if number.split("-")[1] in ("000", "001")]

    assert face(1_000) == face(5_000)


def test_what_is_published_reads_back_the_same(small: Snapshot, tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'catalog.sqlite'}"
    digest = write(small, tmp_path / "migrations")
    upgrade(url, tmp_path / "migrations")
    with reading(open_read_only(url)) as connection:
        read = read_snapshot(connection)
        assert digest_of(rows_at(connection, 1)) == digest
    assert read.release.digest == digest
    assert list(read.parts.items()) == list(small.parts.items())
    assert list(read.connections.items()) == list(small.connections.items())
    assert read.rules == small.rules


@pytest.mark.parametrize("kind", ["plain", "whole"])
def test_something_fits(small: Snapshot, kind: str) -> None:
    answer = engine.fit(ConstraintGraph(small), getattr(builds(small), kind))
    assert answer.verdict == "fits"
    assert answer.decided


@pytest.mark.parametrize("name", ["plane_behind_cover", "outlet_side", "price", "crank_pulley", "pump"])
def test_nothing_fits(small: Snapshot, name: str) -> None:
    assert engine.fit(ConstraintGraph(small), builds(small).blocked[name]).verdict == "blocked"
