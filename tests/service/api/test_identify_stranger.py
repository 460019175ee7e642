"""A stranger with a part in hand, who sees only the printed questions, and the service as it runs.

Each description is what someone sees who lays the part on a bench with a tape: words of the question on the left, the
answer on the right. Who reads a question finds the line whose words stand in it, and else cannot tell.
"""

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from http.client import HTTPConnection
from typing import Any

import pytest

Description = dict[str, str]
MOST_QUESTIONS = 4

SHORT_PUMP = {
    "foremost point": "4 13/16 in",
    "middle of the belt's track": "4 3/16 in",
    "heater pipes": "back",
    "outlet point": "right",
    "stiffening ribs": "4",
    "bolts hold the thermostat housing": "2",
    "grooves": "6",
    "cast in one piece": "one piece",
    "thread for a fan": "no",
    "tensioner bolt": "no",
    "temperature gauge": "no",
    "lowest point over": "1 13/16 in",
    "front edge of the pulley": "4 11/16 in",
}
LATE_OUTER_PUMP = SHORT_PUMP | {
    "foremost point": "6 1/8 in",
    "middle of the belt's track": "5 9/16 in",
    "heater pipes": "up",
    "bolts hold the thermostat housing": "4",
    "temperature gauge": "yes",
    "lowest point over": "2 5/16 in",
    "front edge of the pulley": "6 1/16 in",
}
TRUCK_PUMP = LATE_OUTER_PUMP | {
    "foremost point": "6 9/16 in",
    "middle of the belt's track": "6 in",
    "outlet point": "left",
    "stiffening ribs": "6",
    "cast in one piece": "bolted on",
    "lowest point over": "2 7/16 in",
    "front edge of the pulley": "6 1/2 in",
}
PUMPS: dict[str, Description] = {
    "WP-108": SHORT_PUMP,
    "WP-117": SHORT_PUMP
    | {
        "foremost point": "5 1/4 in",
        "middle of the belt's track": "4 5/8 in",
        "grooves": "12",
        "temperature gauge": "yes",
        "front edge of the pulley": "?",
    },
    "WP-228": LATE_OUTER_PUMP
    | {
        "foremost point": "5 5/8 in",
        "middle of the belt's track": "5 in",
        "stiffening ribs": "6",
        "grooves": "smooth",
        "temperature gauge": "no",
        "lowest point over": "2 1/4 in",
        "front edge of the pulley": "?",
    },
    "WP-241": LATE_OUTER_PUMP,
    "WP-252": TRUCK_PUMP,
    "WP-253": TRUCK_PUMP
    | {
        "foremost point": "7 1/2 in",
        "cast in one piece": "one piece",
        "thread for a fan": "yes",
        "seat of the fan": "7 in",
        "grooves": "8",
        "front edge of the pulley": "?",
    },
}
OTHERS: dict[str, tuple[str, Description]] = {
    "FC-R5": (
        "front_cover",
        {
            "round bulge": "yes",
            "electrical connectors": "3",
            "lower corner": "cut away",
            "bolts hold the cover": "10",
            "front of the cover": "2 3/16 in",
        },
    ),
    "DR-642": (
        "accessory_drive",
        {
            "middle of the belt": "5 9/16 in",
            "ribs has the belt": "6",
            "side of the belt runs": "ribs",
            "tensioner bolt to": "the water pump",
            "alternator sit": "right, high",
            "idler pulleys": "1",
        },
    ),
    "OP-X20": (
        "outlet_plate",
        {
            "large openings for coolant": "4",
            "openings end in": "thread 1 5/8 in across (-20)",
            "vent line": "yes",
            "thermostat inside": "no",
            "heater lines": "2",
        },
    ),
    "TH-M16": (
        "thermostat_housing",
        {
            "bolts hold the housing": "4",
            "to the radiator go on": "thread 1 5/8 in across (-20)",
            "end point, seen": "right, forward",
            "lift out of its seat": "lifts out",
            "else opens into": "nothing",
        },
    ),
}
KNOWN = {number: ("water_pump", description) for number, description in PUMPS.items()} | OTHERS
NOT_IN_THE_CATALOG = SHORT_PUMP | {
    "foremost point": "5 15/16 in",
    "middle of the belt's track": "5 3/8 in",
    "heater pipes": "up",
    "outlet point": "left",
    "stiffening ribs": "3",
    "bolts hold the thermostat housing": "3",
    "lowest point over": "1 1/2 in",
    "front edge of the pulley": "5 7/8 in",
}


@pytest.fixture(scope="module")
def service(demo_url: str) -> Iterator[int]:
    """The port of a service that has been started."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    code = f"from service.api.command import main; main(['serve', '--port', '{port}'])"
    served = subprocess.Popen(
        [sys.executable, "-c", code],
        env=os.environ | {"BELTPLANE_DATABASE": demo_url},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        for _ in range(300):
            try:
                socket.create_connection(("127.0.0.1", port), timeout=1).close()
                break
            except OSError:
                time.sleep(0.1)
        yield port
    finally:
        served.terminate()
        served.wait(timeout=20)


def ask(port: int, asked: dict[str, Any]) -> dict[str, Any]:
    connection = HTTPConnection("127.0.0.1", port, timeout=30)
    body = json.dumps(asked)
    connection.request("POST", "/v1/identifications", body, {"Content-Type": "application/json"})
    response = connection.getresponse()
    found: dict[str, Any] = json.loads(response.read())
    connection.close()
    assert response.status == 200, found
    return found


def call(port: int, kind: str, description: Description, most: int) -> tuple[dict[str, Any], list[str]]:
    """Answer the first printed question until it is known which part it is, or so many have been answered."""
    asked: dict[str, Any] = {"kind": kind, "seen": [], "measured": []}
    printed: list[str] = []
    answer = ask(port, asked)
    while answer["verdict"] != "identified" and answer["next_questions"] and len(printed) < most:
        question = answer["next_questions"][0]
        printed.append(question["question"])
        said = next((said for words, said in description.items() if words in question["question"]), "?")
        if said == "?":
            asked["seen"].append({"cue": question["name"], "answer": "cannot tell"})
        elif question["answers"]:
            asked["seen"].append({"cue": question["name"], "answer": said})
        else:
            asked["measured"].append({"measure": question["name"], "value": said, "taken_with": question["taken_with"]})
        answer = ask(port, asked)
    return answer, printed


@pytest.mark.parametrize("number", KNOWN)
def test_ten_parts_are_identified_in_four_questions(service: int, number: str) -> None:
    assert len(KNOWN) == 10
    kind, description = KNOWN[number]
    answer, printed = call(service, kind, description, MOST_QUESTIONS)
    assert answer["verdict"] == "identified", printed
    assert answer["candidates"][0]["part"] == number
    assert len(printed) <= MOST_QUESTIONS


def test_an_eleventh_that_the_catalog_does_not_hold_is_not(service: int) -> None:
    answer, printed = call(service, "water_pump", NOT_IN_THE_CATALOG, 12)
    assert answer["verdict"] != "identified", (answer["text"], printed)
    assert answer["none_of_these"]["probability"] > 0.5
    assert answer["clashes"]
    assert "Photograph" in answer["send"]
