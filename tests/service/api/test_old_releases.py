"""A release once published answers with the same bytes, however far the catalog moves on or back."""

from pathlib import Path

from litestar.testing import TestClient

from service.api.app import create_app
from service.api.settings import Settings
from tests.support import CatalogFolder, Edit, small_edits

PATHS = ("/v1/fits?engine=E-1", "/v1/parts", "/v1/connections", "/v1/parts/G-1")
LATER: tuple[list[Edit], ...] = (
    [{"edit": "revise_part", "number": "G-1", "price": "5.00 USD"}],
    [
        {
            "edit": "add_part",
            "number": "G-2",
            "kind": "gasket",
            "name": "Thin gasket",
            "measures": {"thickness": "0.4 mm"},
        }
    ],
    [{"edit": "revise_connection", "name": "alder_block", "gasket": "G-2"}],
    [{"edit": "retire_part", "number": "G-1", "replaced_by": "G-2"}],
)

Bytes = dict[str, tuple[int, bytes, str]]


def asked(url: str, number: int) -> Bytes:
    """Every path's status, bytes and ETag, pinned to a release and asked of a service that starts anew."""
    with TestClient(create_app(Settings(database=url))) as client:
        found = {}
        for path in PATHS:
            answer = client.get(f"{path}{'&' if '?' in path else '?'}release={number}")
            found[path] = (answer.status_code, answer.content, answer.headers.get("etag", ""))
        return found


def test_old_releases_keep_their_bytes_through_migrations_and_downgrades(tmp_path: Path) -> None:
    catalog = CatalogFolder(tmp_path / "catalog", f"sqlite:///{tmp_path / 'catalog.db'}")
    first: dict[int, Bytes] = {}
    for number, edits in enumerate((small_edits(), *LATER), start=1):
        catalog.publish(*edits)
        first[number] = asked(catalog.url, number)
        assert {status for status, _, _ in first[number].values()} == {200}
        assert {old: asked(catalog.url, old) for old in first} == first
    assert len({answers["/v1/fits?engine=E-1"][1] for answers in first.values()}) == len(first), "each says its own"

    for newest in reversed(range(1, len(first))):
        catalog.downgrade(newest)
        kept = {old: answers for old, answers in first.items() if old <= newest}
        assert {old: asked(catalog.url, old) for old in kept} == kept
        assert {status for status, _, _ in asked(catalog.url, newest + 1).values()} == {410}

    catalog.upgrade()
    assert {old: asked(catalog.url, old) for old in first} == first, "published again just as it was"
