"""The peers answer what we answer, and the command runs."""

import json
from pathlib import Path

import pytest

from service.fit import engine
from service.fit.graph import ConstraintGraph
from tests.bench.__main__ import main
from tests.bench.assortment import snapshot
from tests.bench.builds import builds
from tests.bench.core import core_of
from tests.bench.peer_numpy import NumpyPeer
from tests.bench.peer_solvers import clingo, cp_sat
from tests.bench.peer_sql import SqlPeer


@pytest.mark.parametrize("most", [2, 3])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_peers_agree(seed: int, most: int) -> None:
    made = snapshot(1_000, seed, on_face=30)
    core = core_of(made, builds(made).plain)
    sql, arrays = SqlPeer(core, most), NumpyPeer(core, most)
    assert sql.joined() == sql.prepared()
    assert [cents for cents, *_ in sql.joined()] == [cents for cents, *_ in arrays.best()]
    assert sql.joined()[0][0] == cp_sat(core, most) == clingo(core, most)


def test_the_peers_find_pumps_that_fit() -> None:
    """On an engine whose only neighbour by plates is left out of the core, the pumps are those of the whole answer."""
    made = snapshot(1_000, seed=1, on_face=20)
    build = builds(made).plain
    graph = ConstraintGraph(made)
    sql = SqlPeer(core_of(made, build), 3)
    ruled_out = {miss.pump for miss in engine.fit(graph, build).ruled_out}
    assert not ruled_out & {pump for _, pump, *_ in sql.joined()}


def test_the_command_writes_a_table_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "bench.json"
    main(["--only", "load", "--sizes", "1000", "--seconds", "0", "--json", str(file)])
    assert "release load, 1,000 parts" in capsys.readouterr().out
    (row,) = json.loads(file.read_text())["rows"]
    assert row["ours"]["calls"] >= 3
