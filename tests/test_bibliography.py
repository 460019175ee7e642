"""One bibliography: whatever is cited stands in it under its short name, and nothing in it is cited by nobody."""

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
BIBLIOGRAPHY = Path(__file__).with_name("bibliography.toml")
FIELDS = {"document", "edition", "where", "read"}

DESIGNATIONS = (
    r"(?:ISO|DIN|VDI|JCGM|FIPS|NIST SP) [0-9]+(?:-[0-9]+)?",
    r"SAE (?:J[0-9]+|[0-9]{4}-[0-9]{2}-[0-9]{4})",
    r"ASME B[0-9]+(?:\.[0-9]+)*",
    r"RFC [0-9]+",
    r"TM [0-9]+(?:-[0-9]+)+",
)
"""How standards are named."""
MONTHS = "January|February|March|April|May|June|July|August|September|October|November|December|Draft|DEC|JUN"
PAPER = re.compile(rf"\b(?!{MONTHS})[A-Z][A-Za-z']+(?: and [A-Z][a-z]+)?\s(?:1[89]|20)[0-9]{{2}}\b(?![-/.])")
"""How books and papers are: by author and year."""
NAMED = re.compile(rf"\b(?:{'|'.join(DESIGNATIONS)})\b")
ADDRESS = re.compile(r"\b(?:[a-z0-9-]+\.)+(?:com|org|net|edu|ca|cn|pt|co\.uk)\b(?!\()")
NO_SOURCE = {"example.com", "example.org"}


@cache
def bibliography() -> dict[str, dict[str, str]]:
    return tomllib.loads(BIBLIOGRAPHY.read_text(encoding="utf-8"))


def citing(*folders: str) -> Iterator[tuple[Path, str]]:
    """Every file of ours that may cite something, with its text, line breaks and comment signs taken for blanks."""
    for folder in folders:
        for path in sorted((ROOT / folder).rglob("*.py")):
            if path != Path(__file__):
                yield path.relative_to(ROOT), re.sub(r"\s*\n\s*(?:# )?", " ", path.read_text(encoding="utf-8"))


def entry_of(name: str) -> str | None:
    """The short name that a citation starts with, the longest of several."""
    found = [short for short in bibliography() if re.match(rf"{re.escape(short)}(?![\w])", name)]
    return max(found, key=len, default=None)


@pytest.mark.parametrize("name", bibliography())
def test_an_entry_says_what_where_and_how_it_was_read(name: str) -> None:
    entry = bibliography()[name]
    assert set(entry) == FIELDS
    assert all(entry[field].strip() for field in FIELDS - {"edition"})


@pytest.mark.parametrize("folder", ["catalog", "service", "migrations", "tests"])
def test_every_standard_that_is_named_is_in_the_bibliography(folder: str) -> None:
    unknown = {
        (str(path), found[0])
        for path, text in citing(folder)
        for found in NAMED.finditer(text)
        if not entry_of(found[0])
    }
    assert unknown == set()


def test_every_book_and_paper_that_tests_and_tables_name_is_in_the_bibliography() -> None:
    unknown = {
        (str(path), found[0])
        for path, text in citing("tests", "catalog/standards")
        for found in PAPER.finditer(text)
        if not entry_of(found[0])
    }
    assert unknown == set()


def test_how_something_was_read_stands_in_the_bibliography_alone() -> None:
    """No page's address, and no maker's name, stands beside a check or in what callers read."""
    makers = [entry["document"].partition(",")[0] for name, entry in bibliography().items() if name.startswith("a ")]
    hidden = re.compile("|".join(rf"\b{re.escape(maker)}\b" for maker in makers if len(maker.split()) == 1))
    named = {
        (str(path), found[0])
        for path, text in citing("catalog", "service", "migrations", "tests")
        for found in (*ADDRESS.finditer(text), *hidden.finditer(text))
        if found[0] not in NO_SOURCE
    }
    assert named == set()


def told() -> dict[str, str]:
    """Every `standard` that an answer can tell, by the module that holds it."""
    found = {}
    for path in sorted((ROOT / "service").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) == "RestsOn":
                for word in node.keywords:
                    if word.arg == "standard" and "api" not in path.parts:  # there it is handed on
                        assert isinstance(word.value, ast.Constant), f"{path}: write the standard out, to be found"
                        found[str(word.value.value)] = path.name
    return found


def test_every_standard_that_an_answer_tells_is_in_the_bibliography() -> None:
    """`what it says (short name, clause; short name, clause)`."""
    for text in told():
        sources = re.fullmatch(r"[^()]+ \(([^()]+)\)", text)
        assert sources is not None, text
        for source in sources[1].split("; "):
            assert any(entry_of(source[start.start() :]) for start in re.finditer(r"\b\w", source)), source
    assert {"belt.py", "bolts.py", "gap.py"} <= set(told().values())


def test_nothing_in_the_bibliography_is_cited_by_nobody() -> None:
    texts = [text for _, text in citing("catalog", "service", "migrations", "tests")]
    cited = {
        name
        for name in bibliography()
        if any(re.search(rf"{re.escape(name)}(?!\w)", text, re.IGNORECASE) for text in texts)
    }
    assert sorted(set(bibliography()) - cited) == []
