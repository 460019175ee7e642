"""The report beside a proposed migration says what it does to builds, or in a sentence why it does not."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from service.api import command_effects, command_propose
from service.api.command import main
from tests.support import CatalogFolder, Edit, small_edits

Run = Callable[..., Result]


@pytest.fixture
def catalog(tmp_path: Path) -> CatalogFolder:
    return CatalogFolder(tmp_path / "front-parts", f"sqlite:///{tmp_path / 'catalog.db'}")


@pytest.fixture
def run(catalog: CatalogFolder) -> Run:
    settings = {"BELTPLANE_DATABASE": catalog.url, "BELTPLANE_CATALOG": str(catalog.folder)}

    def run(*arguments: str | Path) -> Result:
        result = CliRunner(env=settings).invoke(main, ["catalog", *map(str, arguments)])
        assert result.exit_code == 0, result.output
        return result

    return run


def priced() -> list[Edit]:
    return [edit | ({"price": "9.00 USD"} if edit.get("number") == "F-1" else {}) for edit in small_edits()]


def sheets(folder: Path) -> tuple[Path, Path]:
    """Sheets that raise a price and retire the only pump."""
    (folder / "prices.csv").write_text("part,price\nG-1,5.00 USD\n")
    (folder / "parts.csv").write_text("number,status\nP-1,retired\n")
    return folder / "prices.csv", folder / "parts.csv"


def effects_in(report: Path) -> str:
    """What stands in the report's section on effects, which is its last."""
    before, found, section = report.read_text().partition("\n## Effects\n\n```text\n")
    assert found, before
    text, end, rest = section.partition("```\n")
    assert (end, rest) == ("```\n", "")
    return text


def test_the_report_has_the_effects_that_the_command_prints(catalog: CatalogFolder, run: Run, tmp_path: Path) -> None:
    catalog.publish(*priced())
    said = run("propose", *sheets(tmp_path), "-m", "Summer").stdout
    migration = catalog.folder / "0002_summer.py"
    printed = run("effects", "--migration", migration).stdout
    assert printed.startswith(
        "From release 1 (release-1) to 2 (summer): 2 edits, 1 build compared, 1 changed.\n  1 without an answer"
    )
    assert "By part P-1 retired" in printed
    assert effects_in(migration.with_suffix(".md")) == printed
    assert [line.strip() for line in printed.splitlines()] == [
        line.strip() for line in said.partition("Effects\n")[2].splitlines()[:-1]
    ]
    # Going back writes a migration as well, and its effects are the other way round.
    run("upgrade")
    run("revert", "1")
    assert "1 with an answer that had none" in effects_in(catalog.folder / "0003_back_to_1.md")


def test_they_may_be_left_out(
    catalog: CatalogFolder, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    catalog.publish(*priced())
    monkeypatch.setattr(command_propose, "compare", lambda *_: pytest.fail("builds are compared"))
    run("propose", *sheets(tmp_path), "-m", "Summer", "--no-effects")
    assert effects_in(catalog.folder / "0002_summer.md") == "Not asked for.\n"


def test_a_catalog_without_answers_says_so(catalog: CatalogFolder, run: Run, tmp_path: Path) -> None:
    (tmp_path / "fans.csv").write_text("number,kind,name\nFN-1,fan,Fan\n")
    (tmp_path / "name.csv").write_text("number,kind,name\nFN-1,fan,Large fan\n")
    first = run("propose", tmp_path / "fans.csv", "-m", "First").stdout
    assert "nobody has an answer yet" in first
    assert "This is the first release" in effects_in(catalog.folder / "0001_first.md")
    run("upgrade")
    run("propose", tmp_path / "name.csv", "-m", "Second")
    assert effects_in(catalog.folder / "0002_second.md") == "The catalog holds no engine: there is nothing to ask.\n"


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (KeyboardInterrupt, "Not worked out: it was stopped."),
        (None, "Not worked out: The engines, drives and covers of the catalog make more than 0 builds"),
    ],
)
def test_what_is_proposed_stands_though_its_effects_are_not_worked_out(
    catalog: CatalogFolder, run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Any, said: str
) -> None:
    catalog.publish(*priced())

    def stopped(*_: object) -> None:
        raise fault

    if fault is None:
        monkeypatch.setattr(command_effects, "MOST_BUILDS", 0)
    else:
        monkeypatch.setattr(command_propose, "compare", stopped)
    run("propose", *sheets(tmp_path), "-m", "Summer")
    assert effects_in(catalog.folder / "0002_summer.md").startswith(said)
    assert "release 2 (summer)" in run("upgrade").stdout
