"""`detail=brief` leaves the sentences out, and keeps every code and number as it is."""

import re
from collections.abc import Iterator
from typing import Any

import pytest

from service.api.app import OPERATIONS
from service.api.operations import CatalogQuery, Operation
from tests.service.api.conftest import NEEDED, Client
from tests.service.api.test_error_shape import ask

ASKING = [each for each in OPERATIONS if issubclass(each.query, CatalogQuery)]
LEFT_OUT = {
    "text",
    "why",
    "rests_on",
    "alternatives",
    "settle",
    "either_way",
    "open_questions",
    "expected_first",
    "source",
}
SENTENCE = re.compile(r"^[A-Z].* .*[.?!]$")
ASKED_OF_PEOPLE = re.compile(r"/questions?(/|$)")
"""A cue's question is the catalog's own, and what there is to show."""


def leaves(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        for name, item in value.items():
            yield from leaves(item, f"{place}/{name}")
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from leaves(item, f"{place}/{number}")
    else:
        yield place, value


@pytest.mark.parametrize("operation", ASKING, ids=lambda each: each.name)
def test_brief_has_the_codes_and_numbers_of_full_and_no_sentence(client: Client, operation: Operation) -> None:
    needed = NEEDED.get(operation.name, {})
    full, brief = (
        dict(leaves(ask(client, operation, params=needed | {"detail": detail}).json())) for detail in ("full", "brief")
    )
    assert all(full[place] == value for place, value in brief.items())
    gone = [place for place in full if place not in brief and not LEFT_OUT & set(place.split("/"))]
    assert {place.rpartition("/")[2] for place in gone} <= {"send"}, "what to photograph is told in sentences"
    sentences = [place for place, value in brief.items() if isinstance(value, str) and SENTENCE.match(value)]
    assert [place for place in sentences if not ASKED_OF_PEOPLE.search(place)] == []
