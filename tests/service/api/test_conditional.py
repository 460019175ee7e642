"""HEAD, entity tags, 304 and what caches may keep (RFC 9110, sections 8.8, 9.3.2 and 13; RFC 9111)."""

import pytest

from service.api.conditional import entity_tag, matches
from tests.service.api.conftest import Client

ASK = "/v1/fits?engine=ENG-R10&accessory_drive=DR-541"
ADDRESSES = [
    ASK,
    f"{ASK}&release=2",
    "/v1/parts",
    "/v1/parts/WP-227?release=latest",
    "/v1/connections?release=1",
    "/v1/connections/rowanfinch_face",
    "/v1/releases",
    "/v1/releases/1",
    "/schema/openapi.json",
    "/schema",
]


@pytest.mark.parametrize("address", ADDRESSES)
def test_an_unchanged_answer_is_304(client: Client, address: str) -> None:
    first = client.get(address)
    tag = first.headers["etag"]
    assert first.status_code == 200
    assert tag.startswith('"')
    for sent in (tag, f"W/{tag}", f'"other", {tag}', "*"):
        again = client.get(address, headers={"if-none-match": sent})
        assert again.status_code == 304
        assert again.content == b""
        for name in ("etag", "cache-control", "vary"):
            assert again.headers[name] == first.headers[name]
    assert client.get(address, headers={"if-none-match": '"other"'}).content == first.content
    assert client.head(address, headers={"if-none-match": tag}).status_code == 304


@pytest.mark.parametrize("address", [*ADDRESSES, "/livez", "/readyz", "/metrics"])
def test_head_is_get_without_the_body(client: Client, address: str) -> None:
    got, head = client.get(address), client.head(address)
    assert head.status_code == 200
    assert head.content == b""
    own = ("x-request-id", "server-timing", *(["content-length"] if address == "/metrics" else []))
    assert {n: v for n, v in head.headers.items() if n not in own} == {
        n: v for n, v in got.headers.items() if n not in own
    }


@pytest.mark.parametrize(
    ("address", "kept"),
    [
        (ASK, "no-cache"),
        (f"{ASK}&release=latest", "no-cache"),
        (f"{ASK}&release=2", "public, max-age=86400"),
        (f"{ASK}&release=autumn", "public, max-age=86400"),
        ("/v1/parts?release=1", "public, max-age=86400"),
        ("/v1/releases/1", "public, max-age=86400"),
        ("/v1/releases/latest", "no-cache"),
        ("/v1/releases", "no-cache"),
        ("/livez", "no-store"),
        ("/readyz", "no-store"),
        ("/v1/parts/none?release=1", "no-store"),
    ],
)
def test_what_a_cache_may_keep(client: Client, address: str, kept: str) -> None:
    assert client.get(address).headers["cache-control"] == kept


def test_the_tag_follows_from_all_that_the_bytes_follow_from(client: Client) -> None:
    more = ["", "&units=in", "&detail=brief", "&limit=9", "&release=1", "&release=2", "&front_cover=FC-R5"]
    tags = [client.get(ASK + each).headers["etag"] for each in more]
    assert len(set(tags)) == len(more)
    newest = client.get("/v1/releases/latest").json()
    assert client.get(f"{ASK}&release={newest['name']}").headers["etag"] == tags[0]
    assert client.get(f"{ASK}&limit=10").headers["etag"] == tags[0]


def test_a_post_is_never_304(client: Client) -> None:
    build = {"engine": "ENG-R10", "accessory_drive": "DR-541"}
    tag = client.post("/v1/fits", json=build).headers["etag"]
    assert tag == client.get(ASK).headers["etag"]
    assert client.post("/v1/fits", json=build, headers={"if-none-match": tag}).status_code == 200


def test_tags_keep_their_parts_apart() -> None:
    assert entity_tag("a", "bc") != entity_tag("ab", "c")
    assert not matches(None, '"a"')
    assert not matches('"b", "c"', '"a"')


def test_options_names_the_methods(client: Client) -> None:
    assert client.options("/v1/fits").headers["allow"] == "GET, HEAD, OPTIONS, POST"
    assert client.options("/v1/parts/x").headers["allow"] == "GET, HEAD, OPTIONS"
    assert client.options("/v1/parts").status_code == 204


def test_metrics_are_labelled_by_route_never_by_path(client: Client) -> None:
    client.get("/v1/parts/WP-227")
    client.get("/v1/nowhere/at/all")
    client.request("BREW", "/v1/parts")
    text = client.get("/metrics").text
    assert 'route="/v1/parts/{number}"' in text
    assert "WP-227" not in text
    assert "nowhere" not in text
    assert "BREW" not in text
    assert 'beltplane_requests_total{method="GET",route="unmatched",status="404"}' in text
    assert f"beltplane_catalog_release {float(client.get('/v1/releases/latest').json()['number'])}" in text
