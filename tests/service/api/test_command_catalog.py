"""The catalog's commands: a newcomer's way from the README, and what is printed where something is wrong."""

import json
import re
import shlex
import socket
import subprocess
import sys
import time
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import CliRunner, Result

from service.api.command import main

ROOT = Path(__file__).parents[3]


def walkthrough() -> str:
    """The commands of the README's section on a catalog of one's own."""
    section = (ROOT / "README.md").read_text().partition("## A catalog of your own")[2].partition("\n## ")[0]
    return "\n".join(line[4:] for line in section.splitlines() if line.startswith("    "))


class Service:
    """What the walk starts in the background, on a port that is free."""

    def __init__(self, stack: ExitStack) -> None:
        self.stack = stack
        self.ask = ""
        self.answers: list[bytes] = []

    def takes(self, words: list[str], release: int) -> bool:
        """Whether it is a command about the service, and was done; `release` is the one that should answer."""
        match words:
            case ["beltplane", "serve", "--port", "8081", "&"]:
                self.start()
            case [setting] if setting.startswith("ask="):
                self.ask = setting.removeprefix("ask=")
            case ["curl", *_, address]:
                self.asked(address.replace("$ask", self.ask), release)
            case ["kill", "%1"]:
                self.running.terminate()
                assert self.running.wait(20) == 0
            case _:
                return False
        return True

    def start(self) -> None:
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        beltplane = Path(sys.executable).with_name("beltplane")
        self.running = self.stack.enter_context(
            subprocess.Popen(
                [beltplane, "serve", "--port", str(self.port)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
            )
        )
        self.stack.callback(self.running.terminate)

    def asked(self, address: str, release: int) -> None:
        """Ask it, and wait until it answers from the release that an answer may be expected from."""
        address = address.replace(":8081", f":{self.port}")
        deadline = time.monotonic() + 30
        while True:
            with suppress(httpx.TransportError):
                answer = httpx.get(address)
                assert answer.status_code == 200
                if "release=" in address or answer.headers["catalog-release"] == str(release):
                    self.answers.append(answer.content)
                    return
            assert time.monotonic() < deadline, address
            time.sleep(0.1)


def walked(commands: str, start: Path, monkeypatch: pytest.MonkeyPatch, stack: ExitStack) -> tuple[str, list[bytes]]:
    """What the commands print and the service answers, run in this process as a shell would: each must succeed."""
    monkeypatch.chdir(start)
    said: list[str] = []
    service = Service(stack)
    for command in [part for line in commands.splitlines() for part in line.split(" && ")]:
        words = shlex.split(command.replace("$PWD", str(Path.cwd())))
        if service.takes(words, sum(text.startswith("The catalog is at release") for text in said)):
            continue
        match words:
            case ["export", *settings]:
                for name, _, value in (setting.partition("=") for setting in settings):
                    monkeypatch.setenv(name, value)
            case ["mkdir", folder]:
                Path(folder).mkdir()
            case ["cd", folder]:
                monkeypatch.chdir(folder)
            case ["printf", text, ">", file]:
                Path(file).write_text(text.replace("\\n", "\n"))
            case ["beltplane", *arguments]:
                result = CliRunner().invoke(main, arguments)
                assert result.exit_code == 0, f"{command}: {result.output}"
                said.append(result.stdout)
            case []:
                pass
            case other:
                pytest.fail(f"the README has a command that this test does not know: {other}")
    return "".join(said), service.answers


def test_a_newcomer_walks_through_the_readme(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Every command of it in order: new, template, publish, ask, correct, publish, pin, revert, export.

    The service runs from the first release on, and nobody restarts it.
    """
    (tmp_path / "repository").mkdir()
    for name in ("BELTPLANE_CATALOG", "BELTPLANE_DATABASE"):
        monkeypatch.setenv(name, "")
    with ExitStack() as stack:
        said, answers = walked(walkthrough(), tmp_path / "repository", monkeypatch, stack)
    for words in (
        "front-parts is ready for a catalog of your own.",
        "Wrote 11 CSV files in sheets.",
        "Release 1 (our-first-parts): 12 parts added, 4 connections added, 1 rule added.",
        "Release 2 (the-cover-measured-again): 1 part revised.",
        "  FC-501: cover_height from 48 mm to 52 mm (caliper).",
        "    ENG-501, DR-501, FC-501: WP-501, now SP-514 + WP-502; 149.50 USD, now 157.00 USD",
        "Release 3 (back-to-1): 1 part revised.",
        "The catalog is at release 3 (back-to-1).",
        "They hold release 3 (back-to-1).",
    ):
        assert words in said
    first = [re.search(r"^1 +(\S+)", answer, re.MULTILINE) for answer in said.split("   pump ")[1:]]
    assert [found and found[1] for found in first] == ["WP-501", "WP-502"]
    before, corrected, pinned, back = answers
    assert pinned == before != corrected
    told = [json.loads(answer) for answer in (before, corrected, back)]
    assert [(answer["release"]["number"], answer["options"][0]["pump"]) for answer in told] == [
        (1, "WP-501"),
        (2, "WP-502"),
        (3, "WP-501"),
    ]
    shop = tmp_path / "our-shop"
    assert sorted(path.name for path in (shop / "front-parts").glob("*.py")) == [
        "0001_our_first_parts.py",
        "0002_the_cover_measured_again.py",
        "0003_back_to_1.py",
    ]
    digests = [re.search(r"sha256:\w+", path.read_text()) for path in sorted((shop / "front-parts").glob("*.py"))]
    assert [found and found[0] for found in digests[:1]] == [found and found[0] for found in digests[2:]]


class Shop:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.migrations = folder / "front-parts"
        self.environment = {
            "BELTPLANE_CATALOG": str(self.migrations),
            "BELTPLANE_DATABASE": f"sqlite:///{folder / 'shop.sqlite'}",
        }

    def __call__(self, *arguments: str | Path, **environment: Any) -> Result:
        return CliRunner(env={**self.environment, **environment}).invoke(main, ["catalog", *map(str, arguments)])


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    shop = Shop(tmp_path)
    assert shop("new", shop.migrations).exit_code == 0
    return shop


@pytest.fixture
def published(shop: Shop) -> Shop:
    for arguments in (
        ("template", "--filled", shop.folder / "s"),
        ("propose", shop.folder / "s", "-m", "x"),
        ["upgrade"],
    ):
        result = shop(*arguments)
        assert result.exit_code == 0, result.output
    return shop


def test_faulty_sheets_are_listed_and_nothing_is_written(published: Shop) -> None:
    before = sorted(published.migrations.iterdir())
    sheet = published.folder / "prices.csv"
    sheet.write_text("part,price\nWP-501,12\nWP-599,1 USD\n")
    result = published("propose", sheet, "-m", "Prices")
    assert (result.exit_code, result.stdout) == (1, "")
    assert result.stderr.splitlines() == [
        "Error: Nothing is written; the sheets have 2 faults:",
        f'  - {sheet}, row 2, column price (B): "12" has no currency; write it as "12 USD", in the currency of the '
        "catalog",
        f'  - {sheet}, row 3, column part (A): there is no part "WP-599", neither in the catalog nor in these sheets; '
        'did you mean "WP-501"?',
    ]
    assert sorted(published.migrations.iterdir()) == before


def test_the_same_sheets_again_change_nothing(published: Shop) -> None:
    for arguments in (("propose", published.folder / "s", "-m", "x"), ("revert", "1"), ("revert", "x")):
        result = published(*arguments)
        assert result.exit_code == 0
        assert result.output == "That is what release 1 says: nothing changes, and nothing is written.\n"


def test_a_workbook_goes_out_and_comes_back(published: Shop) -> None:
    assert published("export", published.folder / "all.xlsx").exit_code == 0
    result = published("propose", published.folder / "all.xlsx", "--whole", "-m", "x")
    assert result.output == "That is what release 1 says: nothing changes, and nothing is written.\n"


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["upgrade"], 1, "front-parts holds no release yet; `beltplane catalog propose` writes the first."),
        (["new", "front-parts"], 2, "is there already and is not an empty folder."),
        (["propose", "nothing.csv", "-m", "x"], 2, "does not exist"),
        (["propose", "front-parts", "-m", "x"], 1, "the folder holds no file that ends in .csv or .xlsx"),
        (["propose", "parts.csv"], 2, "Missing option '-m'"),
        (["propose", "parts.csv", "-m", " "], 2, "The message is a sentence of at most 400 characters"),
        (["propose", "parts.csv", "-m", "x", "--on", "1.3.2026"], 1, '"1.3.2026" is not a date as 2026-03-02'),
        (["propose", "parts.csv", "-m", "x", "--name", "9"], 1, '"9" is no name of a release'),
        (["revert", "1"], 1, "There is no catalog database"),
        (["export", "sheets"], 1, "There is no catalog database"),
        (["template", "parts.csv/x.xlsx"], 1, "cannot be written"),
    ],
)
def test_wrong_usage_says_what_would_be_right(shop: Shop, arguments: list[str], status: int, said: str) -> None:
    (shop.folder / "parts.csv").write_text("number,kind,name\nFN-1,fan,Fan\nGK-1,gasket,Seal\n")
    (shop.folder / "measures.csv").write_text("part,measure,value\nGK-1,thickness,1 mm\n")
    placed = [
        str(shop.folder / word) if word.endswith((".csv", ".xlsx", "front-parts", "sheets")) else word
        for word in arguments
    ]
    if placed[:1] == ["propose"]:
        placed.insert(2, str(shop.folder / "measures.csv"))
    result = shop(*placed)
    assert result.exit_code == status, result.output
    assert said in result.output
    assert [path.name for path in shop.migrations.iterdir()] == ["README.md"]


def test_the_demos_folder_is_not_written_into_by_accident(published: Shop) -> None:
    result = published("propose", published.folder / "s", "-m", "x", BELTPLANE_CATALOG="")
    assert result.exit_code == 2
    assert "No folder of a catalog is named. Set BELTPLANE_CATALOG" in result.output


def test_releases_that_are_not_there_are_named(published: Shop) -> None:
    assert "There is no release 7." in published("revert", "7").output
    assert "There is no release 7." in published("export", published.folder / "x", "--release", "7").output


def test_an_export_overwrites_nothing(published: Shop) -> None:
    result = published("export", published.folder / "s")
    assert result.exit_code == 2
    assert "parts.csv is there already; name another place, or take it away first." in result.output


def test_the_limits_stand_in_the_help_and_in_the_readme() -> None:
    said = " ".join(CliRunner().invoke(main, ["catalog", "propose", "--help"]).output.split())
    readme = " ".join((ROOT / "README.md").read_text().split())
    for words in ("100 files", "500,000 rows", "100 columns", "10,000 characters a cell", "512 MB"):
        assert words in said
        assert words in readme
