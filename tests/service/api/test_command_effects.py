"""`beltplane catalog effects`: of two releases, of a proposed migration, of builds in a file."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from service.api import command_effects
from service.api.command import main
from tests.support import CatalogFolder, small_edits

CHANGES = ({"edit": "revise_part", "number": "G-1", "price": "5.00 USD"},)
BUILD = '{"engine": "E-1"}\n'


@pytest.fixture
def catalog(tmp_path: Path) -> CatalogFolder:
    catalog = CatalogFolder(tmp_path / "migrations", f"sqlite:///{tmp_path / 'catalog.db'}")
    priced = [edit | ({"price": "9.00 USD"} if edit.get("number") == "F-1" else {}) for edit in small_edits()]
    catalog.publish(*priced)
    return catalog


@pytest.fixture
def run(catalog: CatalogFolder, monkeypatch: pytest.MonkeyPatch) -> Any:
    def run(*arguments: str, stdin: str | None = None) -> Result:
        return CliRunner().invoke(main, ("catalog", "effects", *arguments), input=stdin)

    monkeypatch.setenv("BELTPLANE_DATABASE", catalog.url)
    return run


def test_a_proposed_migration_and_the_releases_when_it_is_published(catalog: CatalogFolder, run: Any) -> None:
    alone = run()
    assert alone.exit_code == 2
    assert "one release only" in alone.stderr
    file = catalog.write(*CHANGES, number=2)
    faulty = run("--migration", str(file))
    assert faulty.exit_code == 1
    assert "the digest is" in faulty.stderr
    catalog.write(*CHANGES, number=2, digest=faulty.stderr.split('"')[1])
    proposed = run("--migration", str(file))
    assert proposed.exit_code == 0
    assert proposed.stderr == ""
    assert proposed.stdout == (
        "From release 1 (release-1) to 2 (release-2): 1 edit, 1 build compared, 1 changed.\n"
        "  1 at another price\n"
        "\n"
        "By part G-1 revised: price 4.00 USD, now 5.00 USD\n"
        "    E-1: 166.00 USD, now 168.00 USD\n"
    )
    both = run("--migration", str(file), "1")
    assert both.exit_code == 2
    catalog.upgrade()
    for releases in ((), ("1",), ("1", "2"), ("release-1", "latest")):
        assert run(*releases).stdout == proposed.stdout
    assert "168.00 USD, now 166.00 USD" in run("2", "1").stdout
    assert "is published already" in run("--migration", str(file)).stderr
    assert run("7").exit_code == 2


def test_json_tells_the_same(catalog: CatalogFolder, run: Any, tmp_path: Path) -> None:
    builds = tmp_path / "builds.jsonl"
    builds.write_text(BUILD * 20 + '\n{"engine": "E-7"}\n')
    catalog.publish(*CHANGES)
    found = json.loads(run("--builds", str(builds), "--json", "--workers", "2").stdout)
    assert (found["builds"], found["refused"], found["undecided"], len(found["effects"])) == (21, 1, 0, 20)
    effect = found["effects"][0]
    assert effect["build"]["engine"] == "E-1"
    assert effect["before"]["price"] == {"amount": 16600, "currency": "USD"}
    assert effect["after"]["price"] == {"amount": 16800, "currency": "USD"}
    assert [(cause["changes"], cause["edits"][0]["name"]) for cause in effect["causes"]] == [(["price"], "G-1")]
    one = json.loads(run("--builds", "-", "--json", "--workers", "1", stdin=BUILD).stdout)
    assert one["effects"] == [effect]


def test_every_faulty_line_of_a_file_is_told(run: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    lines = '{"engine": "E-1"}\n{"engine": 7, "cover": "x"}\n\n{"engine"\n{"accessory_drive": "D-1"}\n'
    result = run("1", "--builds", "-", stdin=lines)
    assert result.exit_code == 2
    told = result.stderr.splitlines()
    for start in ("  line 2: /engine ", "  line 2: /cover ", "  line 4: ", "  line 5: "):
        assert any(line.startswith(start) for line in told), (start, told)
    assert "holds no build" in run("1", "--builds", "-", stdin="\n").stderr
    assert "more than 65,536 bytes" in run("1", "--builds", "-", stdin=BUILD + " " * 70_000).stderr
    monkeypatch.setattr(command_effects, "MOST_BUILDS", 2)
    assert "more than 2 builds" in run("1", "--builds", "-", stdin=BUILD * 3).stderr
    monkeypatch.setattr(command_effects, "MOST_FAULTS", 2)
    assert "and 1 more" in run("1", "--builds", "-", stdin="{}\n" * 3).stderr
