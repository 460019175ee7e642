"""The sentences that explain a ranking, as committed in `explained.txt`: read one by one, and the same for ever.

After a change that is meant, write them anew and read the difference:

    python -m tests.service.fit.test_explained_sentences
"""

import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

import msgspec

from catalog.database import open_read_only, reading
from catalog.migrate import upgrade
from catalog.reader import read_snapshot
from service.fit import engine, wording
from service.fit.answer import Answer
from service.fit.build import Build
from service.fit.graph import ConstraintGraph
from service.fit.wording import Units

SNAPSHOT: Final = Path(__file__).with_name("explained.txt")
OUTER: Final = {"engine": "ENG-R20", "accessory_drive": "DR-541"}
MY_DRIVE: Final = {
    "name": "my drive",
    "measures": {"belt_plane": {"value": "5 3/4 in", "taken_with": "tape"}},
    "attributes": {"ribs": 6, "profile": "PK", "belt_side": "ribbed", "rotation": "clockwise"},
    "ports": [{"role": "mount", "connection": "rowanfinch_bracket"}],
}
MY_PUMP: Final = {
    "name": "my pump",
    "measures": {"belt_plane": {"value": "127 mm", "taken_with": "caliper"}},
    "ports": [{"role": "mount", "connection": "rowanfinch_face"}],
}
BUILDS: Final[dict[str, dict[str, Any]]] = {
    "an engine that came with one of several covers": OUTER | {"limit": 5},
    "an engine alone": {"engine": "ENG-R20"},
    "a heater, a fan and a working vehicle's drive": {
        "engine": "ENG-R22",
        "accessory_drive": "DR-558",
        "heater": "HX-40",
        "fan": "mechanical",
    },
    "parts at hand": OUTER
    | {"front_cover": "FC-R5", "have": ["WP-227", "WP-140", "WP-G32", "RP-20", "FC-R1", "HX-40", "GK-04", "HX-40"]},
    "margin before all else": OUTER | {"front_cover": "FC-R5", "rank_by": ["margin"], "limit": 3},
    "a drive read with a tape": {"engine": "ENG-R20", "front_cover": "FC-R5", "accessory_drive": MY_DRIVE, "limit": 3},
    "a pump of which little is known": OUTER | {"pump": MY_PUMP, "front_cover": "FC-R5", "limit": 1},
    "a pump and a cover read with a tape": OUTER
    | {
        "pump": "WP-140",
        "front_cover": {"name": "my cover", "measures": {"cover_height": {"value": "49 mm", "taken_with": "tape"}}},
        "measured": [{"part": "WP-140", "measure": "cover_room", "value": "51 mm", "taken_with": "tape"}],
    },
    "a cover whose reading is that of another": OUTER
    | {
        "pump": "WP-140",
        "front_cover": "FC-R2",
        "measured": [{"part": "FC-R2", "measure": "cover_height", "value": "49 mm", "taken_with": "tape"}],
    },
}


def sentences(answer: Answer, units: Units) -> Iterator[str]:
    """Every sentence that explains an answer, in order."""
    explanation = answer.explanation
    assert explanation is not None
    if explanation.either_way is not None:
        yield wording.either_way_text(explanation.either_way)
    for question in explanation.open_questions:
        yield wording.open_question_text(question, units)
    for expected in explanation.expected_first:
        yield wording.expected_text(expected, units, "USD")
    for option in answer.options:
        if option.above_next is not None:
            yield wording.above_next_text(option.above_next, units, "USD")
        for check in option.checks:
            if check.settle is not None:
                yield from (wording.taking_text(taking, units) for taking in check.settle.readings)
                yield from (wording.looking_text(looking, units) for looking in check.settle.look_at)
                yield wording.settling_text(check.settle)


def told(*titles: str) -> str:
    """The sentences of these builds, each once."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/catalog.db"
        upgrade(url)
        database = open_read_only(url)
        with reading(database) as connection:
            graph = ConstraintGraph(read_snapshot(connection))
        database.dispose()
    lines = []
    for title in titles:
        answer = engine.fit(graph, msgspec.convert(BUILDS[title], Build), explain=True)
        units: Units = "in" if title == "a drive read with a tape" else "mm"
        lines += [f"# {title}: {answer.verdict}", *dict.fromkeys(sentences(answer, units)), ""]
    return "\n".join(lines)


def test_the_sentences_are_those_that_were_read() -> None:
    assert told(*BUILDS) == SNAPSHOT.read_text(encoding="utf-8")


def test_they_are_the_same_under_another_hash_seed() -> None:
    title = "a drive read with a tape"
    program = f"from tests.service.fit.test_explained_sentences import told; print(told({title!r}), end='')"
    said = subprocess.run(
        [sys.executable, "-c", program],
        env=os.environ | {"PYTHONHASHSEED": "77"},
        cwd=Path(__file__).parents[3],
        capture_output=True,
        text=True,
        check=True,
    )
    assert len(said.stdout) > 500
    assert said.stdout in SNAPSHOT.read_text(encoding="utf-8")


def test_they_hold_no_names_of_the_inside() -> None:
    lines = SNAPSHOT.read_text(encoding="utf-8").splitlines()
    for line in (line for line in lines if line and not line.startswith("# ")):
        assert not re.search(r"_|[{}\[\]]|\bNone\b|previously reported", line), line
        assert line.endswith("."), line
        assert not re.search(r"  |\.\.|\( |fit: (The|Its) ", line), line


if __name__ == "__main__":
    SNAPSHOT.write_text(told(*BUILDS), encoding="utf-8")
