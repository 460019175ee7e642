"""`beltplane identify`: a conversation in the terminal, and the same without one."""

import json
from typing import Any

import pytest
from click.testing import CliRunner, Result

from service.api.command import main
from tests.service.api.conftest import Client


@pytest.fixture
def run(demo_url: str, monkeypatch: pytest.MonkeyPatch) -> Any:
    def run(*arguments: str, stdin: str = "") -> Result:
        return CliRunner().invoke(main, ["identify", *arguments], input=stdin)

    monkeypatch.setenv("BELTPLANE_DATABASE", demo_url)
    return run


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_conversation_ends_with_the_part(run: Any) -> None:
    # The sort of part, a bare reading in inches, what cannot be told, a slip, then a letter and words.
    result = run(stdin="water pump\n6 1/8\n?\nhello\nb\nyes\nright\n6\n")
    assert result.exit_code == 0, result.output
    said = words(result.stdout)
    assert "What sort of part is it?" in said
    assert "Answer with a letter" in said
    assert "It is WP-241, Mossheron outer pump" in said
    assert "left;" in said
    assert "licensed mechanic" in said
    assert max(map(len, result.stdout.splitlines())) <= 100


def test_a_conversation_broken_off_says_what_to_send(run: Any) -> None:
    for stdin in ("", "\n", "5 in\n\n", "six\n5 in\n"):
        result = run("--kind", "water_pump", stdin=stdin)
        assert result.exit_code == 0, result.output
        assert "Photograph the whole pump" in words(result.stdout)
        assert "Next:" not in result.stdout


def test_letters_stand_for_answers_and_words_come_first(run: Any) -> None:
    result = run("--kind", "front_cover", "--measured", "cover_height=2 3/16 in", stdin="b\n")
    assert result.exit_code == 0
    known = run(
        "--kind", "accessory_drive", "--seen", "alternator=left, low", "--measured", "belt_plane=6 in", stdin="6\n"
    )
    assert known.exit_code == 0
    assert "Photograph" in words(known.stdout)


def test_json_asks_nothing_and_is_what_the_service_answers(run: Any, client: Client) -> None:
    result = run(
        *("--kind", "water_pump", "--seen", "outlet_side=left", "--seen", "neck=?"),
        *("--measured", "nose=6 1/8 in tape", "--fits-on", "ENG-R20", "--years", "2008-2012", "--number", "71205842"),
        *("--units", "mm", "--json"),
    )
    asked = {
        "kind": "water_pump",
        "seen": [{"cue": "outlet_side", "answer": "left"}, {"cue": "neck", "answer": "cannot tell"}],
        "measured": [{"measure": "nose", "value": "6 1/8 in", "taken_with": "tape"}],
        "fits_on": ["ENG-R20"],
        "years": {"from": 2008, "to": 2012},
        "number": "71205842",
    }
    assert result.exit_code == 0, result.output
    assert json.loads(result.stdout) == client.post("/v1/identifications", json=asked).json()


def test_a_file_is_added_to(run: Any) -> None:
    result = run("--file", "-", "--seen", "neck=bolted on", "--json", stdin='{"kind": "water_pump"}')
    found = json.loads(result.stdout)
    assert found["identification"]["seen"] == [{"cue": "neck", "answer": "bolted on"}]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--kind", "water_pump", "--seen", "neck=left", "--measured", "belt_plain=5 in"), "belt_plane"),
        (("--kind", "water_pump", "--seen", "neck=left", "--measured", "belt_plain=5 in"), "bolted on"),
        (("--kind", "carburettor"), "carburettor"),
        (("--seen", "neck"), "is not CUE=ANSWER"),
        (("--measured", "nose"), "is not a reading"),
        (("--years", "old"), "neither a year nor two"),
        (("--years", "1800"), "at least 1900"),
        (("--release", "midsummer"), "midsummer"),
        (("--fits-on", "ENG-R2"), "ENG-R20"),
    ],
)
def test_wrong_usage_names_every_fault(run: Any, arguments: tuple[str, ...], said: str) -> None:
    result = run(*arguments, "--json")
    assert result.exit_code == 2
    assert said in words(result.stderr)
    assert result.stdout == ""
