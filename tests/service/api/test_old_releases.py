"""What was once answered from a release is answered from it for good, byte for byte, until it is withdrawn.

Design, section 5: a release is immutable; a migration adds one, a downgrade withdraws the newest.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from service.api.app import create_app
from service.api.settings import Settings
from tests.service.api.conftest import Client
from tests.support import CatalogFolder, Edit, small_edits

BUILD: dict[str, Any] = {
    "engine": "E-1",
    "accessory_drive": {
        "name": "own drive",
        "measures": {"belt_plane": {"value": "157 mm", "taken_with": "caliper"}},
        "attributes": {"ribs": 6},
    },
    "paths_per_pump": 5,
}
QUESTIONS = (
    "/v1/fits?engine=E-1&paths_per_pump=5",
    "/v1/fits?engine=E-1&pump=P-1&units=in&detail=brief",
    "/v1/parts",
    "/v1/parts?limit=2",
    "/v1/parts/P-1",
    "/v1/connections",
    "/v1/connections/alder_block",
)
SECOND_PUMP: dict[str, Any] = {
    **next(edit for edit in small_edits() if edit.get("number") == "P-1"),
    "number": "P-2",
    "name": "Alder pump, outer",
    "aliases": ["99-2"],
}
RELEASES: tuple[list[Edit], ...] = (
    small_edits(),
    [{"edit": "add_part", **{name: value for name, value in SECOND_PUMP.items() if name != "edit"}}],
    [
        {"edit": "revise_part", "number": "P-1", "price": "139.00 USD", "measures": {"flange_thickness": "21 mm"}},
        {"edit": "revise_connection", "name": "alder_block", "bolts": 6},
        {"edit": "retire_rule", "name": "p1_on_s1"},
    ],
    [
        {"edit": "retire_part", "number": "P-1", "replaced_by": "P-2"},
        {"edit": "revise_part", "number": "G-1", "measures": {"thickness": "2 mm"}, "price": "5.00 USD"},
        {"edit": "add_rule", "name": "p2_not_s1", "kind": "excludes", "part": "P-2", "others": ["S-1"]},
    ],
    [
        {"edit": "retire_part", "number": "S-1"},
        {"edit": "revise_connection", "name": "alder_block", "title": "Alder face", "pieces_per_layer": 1},
        {"edit": "revise_part", "number": "P-2", "name": "Outer pump", "aliases": []},
    ],
)
"""Edits of each release: every later one changes what every question is answered from."""

Said = dict[tuple[str, str], tuple[bytes, str]]
"""Bytes and entity tag, by release and question."""


def pinned(question: str, reference: str) -> str:
    """The question, of a release by number or name."""
    return f"{question}{'&' if '?' in question else '?'}release={reference}"


class Shop:
    """A catalog that grows and shrinks, asked by a service that runs all the while and by one started afresh."""

    def __init__(self, lasting: Client, catalog: CatalogFolder) -> None:
        self.lasting, self.catalog = lasting, catalog
        self.said: Said = {}

    def fresh(self) -> Client:
        """A client of a service that remembers nothing."""
        return TestClient(create_app(Settings(database=self.catalog.url)))

    def ask(self, client: Client, number: int, reference: str) -> Said:
        said: Said = {}
        for question in QUESTIONS:
            response = client.get(pinned(question, reference))
            assert response.status_code == 200, response.text
            assert response.headers["catalog-release"] == str(number)
            said[reference, question] = response.content, response.headers["etag"]
            tag = {"if-none-match": response.headers["etag"]}
            assert client.get(pinned(question, reference), headers=tag).status_code == 304
        posted = client.post(pinned("/v1/fits", reference), json=BUILD)
        assert posted.status_code == 200, posted.text
        said[reference, "POST"] = posted.content, posted.headers["etag"]
        one = client.get(f"/v1/releases/{reference}")
        said[reference, "release"] = one.content, one.headers["etag"]
        return said

    def check(self, published: int) -> None:
        """Everything that is still published says what it said when it was; what is withdrawn is gone."""
        with self.fresh() as fresh:
            for client in (self.lasting, fresh):
                for number in range(1, published + 1):
                    for reference in (str(number), f"release-{number}"):
                        for key, answer in self.ask(client, number, reference).items():
                            assert answer == self.said.setdefault(key, answer), key
                for number in range(published + 1, len(self.catalog.digests) + 1):
                    self.gone(client, number)

    def gone(self, client: Client, number: int) -> None:
        for reference in (str(number), f"release-{number}"):
            refused = [client.get(pinned(question, reference)) for question in QUESTIONS]
            refused.append(client.post(pinned("/v1/fits", reference), json=BUILD))
            refused.append(client.get(f"/v1/releases/{reference}"))
            # Who still holds the answer is told too.
            tag = {"if-none-match": self.said[reference, QUESTIONS[0]][1]}
            refused.append(client.get(pinned(QUESTIONS[0], reference), headers=tag))
            assert {response.status_code for response in refused} == {410}
            assert {response.headers["content-type"] for response in refused} == {"application/problem+json"}
            assert {response.headers["cache-control"] for response in refused} == {"no-store"}


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    catalog = CatalogFolder(tmp_path / "migrations", f"sqlite:///{tmp_path / 'catalog.db'}")
    catalog.publish(*RELEASES[0])
    with TestClient(create_app(Settings(database=catalog.url))) as lasting:
        yield Shop(lasting, catalog)


def test_old_releases_answer_the_same_bytes_after_every_migration_and_downgrade(shop: Shop) -> None:
    shop.check(1)
    for number in (2, 3, 4, 5):
        shop.catalog.publish(*RELEASES[number - 1])
        shop.check(number)
    for number in (4, 3, 1):
        shop.catalog.downgrade(number)
        shop.check(number)
    shop.catalog.upgrade()
    shop.check(5)  # a release that comes back is the very one
    shop.catalog.downgrade(2)
    shop.check(2)


def test_every_release_answers_every_question_its_own_way(shop: Shop) -> None:
    """Else the same bytes would prove nothing: beside the release's own name, what is said differs too."""
    for number in (2, 3, 4, 5):
        shop.catalog.publish(*RELEASES[number - 1])
    shop.check(5)

    def content(number: int, question: str) -> bytes:
        said, _ = shop.said[str(number), question]
        return said[said.index(b"}") :]  # the release comes first

    for question in ("POST", *QUESTIONS[:5]):
        assert len({content(number, question) for number in range(1, 6)}) >= 3, question
        assert len({shop.said[str(number), question][1] for number in range(1, 6)}) == 5
    for question in QUESTIONS[5:]:
        assert content(2, question) != content(3, question) != content(5, question)
    assert all(b'"options":[{' in shop.said[str(number), "POST"][0] for number in (1, 2, 3))


def test_the_newest_follows_and_old_ones_do_not(shop: Shop) -> None:
    """Without a release it is the newest that answers, from the first question after it is published."""
    shop.check(1)
    first = shop.lasting.get("/v1/parts/P-1")
    for number in (2, 3):
        shop.catalog.publish(*RELEASES[number - 1])
    newest = shop.lasting.get("/v1/parts/P-1")
    assert newest.headers["catalog-release"] == "3"
    assert newest.content != first.content
    assert shop.lasting.get("/v1/parts/P-1?release=1").content == first.content
    shop.catalog.downgrade(1)
    assert shop.lasting.get("/v1/parts/P-1").content == first.content


def test_a_page_goes_on_in_its_own_release(shop: Shop) -> None:
    """A cursor of an old release gives that release's next page, whatever was published meanwhile."""
    shop.check(1)
    page = shop.lasting.get("/v1/parts?limit=2&release=1").json()
    before = shop.lasting.get("/v1/parts", params={"limit": 2, "cursor": page["next"]})
    for number in (2, 3):
        shop.catalog.publish(*RELEASES[number - 1])
    after = shop.lasting.get("/v1/parts", params={"limit": 2, "cursor": page["next"]})
    assert before.status_code == after.status_code == 200
    assert (before.content, before.headers["etag"]) == (after.content, after.headers["etag"])
