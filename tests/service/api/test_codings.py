"""Content codings: negotiation (RFC 9110, sections 8.4 and 12.5.3), tags, lengths and bytes of coded answers."""

import contextlib
import gzip
import zlib
from collections.abc import Callable

import pytest
import zstandard
from hypothesis import given
from hypothesis import strategies as st

from service.api.codings import CODINGS, GZIP, IDENTITY, LEAST_BYTES, ZSTD, coding_for
from tests.service.api.conftest import Client

LONG = "/v1/fits?engine=ENG-R10&accessory_drive=DR-541&detail=brief"
SHORT = "/v1/releases/1"


# RFC 9110, section 12.5.3; "x-gzip" by section 8.4.1.3; names without regard to case by section 8.4.1;
# weights by section 12.4.2.
@pytest.mark.parametrize(
    ("header", "name"),
    [
        (None, "identity"),
        ("", "identity"),
        ("gzip", "gzip"),
        ("x-gzip", "gzip"),
        ("GZip", "gzip"),
        ("zstd", "zstd"),
        ("gzip, zstd", "zstd"),
        ("zstd;q=0.5, gzip;q=0.9", "gzip"),
        ("gzip;q=0.5, identity", "identity"),
        ("gzip;q=0.001", "gzip"),
        ("gzip;q=0", "identity"),
        ("gzip;q=0.000", "identity"),
        ("deflate, br", "identity"),
        ("compress, gzip", "gzip"),  # the examples of section 12.5.3
        ("*", "zstd"),
        ("compress;q=0.5, gzip;q=1.0", "gzip"),
        ("gzip;q=1.0, identity; q=0.5, *;q=0", "gzip"),
        ("*;q=0.5, zstd;q=0", "gzip"),
        ("identity;q=0, gzip", "gzip"),
        ("identity;q=0, *;q=0.3", "zstd"),
        ("*;q=0", None),
        ("identity;q=0", None),
        ("identity;q=0, br", None),
        ("identity;q=0, gzip;q=0, zstd;q=0", None),
        ("*;q=0, identity", "identity"),
        ("gzip;q=2", "identity"),  # a weight is 1 at most; what is not of the grammar is passed over
        (";;, ,gzip", "gzip"),
        ("gzip;level=9", "identity"),
    ],
)
def test_the_coding_is_the_one_that_is_liked_best(header: str | None, name: str | None) -> None:
    found = coding_for(header)
    assert (None if found is None else found.name) == name


@given(st.text(max_size=60))
def test_no_header_is_beyond_it(header: str) -> None:
    found = coding_for(header)
    assert found is None or found.name in {coding.name for coding in CODINGS}


@given(st.binary(max_size=5_000))
def test_codings_give_back_what_they_took(content: bytes) -> None:
    for coding in CODINGS:
        assert coding.decode(coding.encode(content)) == content
        assert coding.encode(content) == coding.encode(content)
    assert gzip.decompress(GZIP.encode(content)) == content
    # RFC 1952, section 2.3.1: MTIME is 0 where there is no time, so that the same content gives the same bytes.
    assert GZIP.encode(content)[4:8] == bytes(4)


def raw(
    client: Client, method: str, address: str, coding: str | None, if_none_match: str | None = None
) -> tuple[int, dict[str, str], bytes]:
    """A response as it was sent: httpx would ask for codings of its own, and take them off."""
    request = client.build_request(method, address)
    del request.headers["accept-encoding"]
    if coding is not None:
        request.headers["accept-encoding"] = coding
    if if_none_match is not None:
        request.headers["if-none-match"] = if_none_match
    with contextlib.closing(client.send(request, stream=True)) as response:
        return response.status_code, dict(response.headers), b"".join(response.iter_raw())


UNCODED: dict[str, Callable[[bytes], bytes]] = {
    "gzip": gzip.decompress,
    "zstd": zstandard.decompress,
}


@pytest.mark.parametrize(
    "address", [LONG, f"{LONG}&release=2", "/v1/parts?limit=200", "/schema", "/schema/openapi.json"]
)
def test_each_coding_is_the_same_answer_under_a_tag_of_its_own(client: Client, address: str) -> None:
    """RFC 9110, section 8.8.3.3: representations that differ by their coding have different strong tags."""
    _, plain, body = raw(client, "GET", address, "identity")
    assert "content-encoding" not in plain
    tags = {plain["etag"]}
    for name, uncoded in UNCODED.items():
        status, fields, coded = raw(client, "GET", address, name)
        assert status == 200
        assert fields["content-encoding"] == name
        assert uncoded(coded) == body
        assert len(coded) < len(body)
        # RFC 9110, section 8.6: the length of what is sent.
        assert int(fields["content-length"]) == len(coded)
        # RFC 9110, section 12.5.5: on every response that could have been another one, coded or not.
        assert "Accept-Encoding" in fields["vary"]
        assert "Accept-Encoding" in plain["vary"]
        assert not fields["etag"].startswith("W/")
        tags.add(fields["etag"])
        for again in ("GET", "HEAD"):
            # RFC 9110, section 15.4.5: with ETag, Cache-Control and Vary, and of what is not sent no length or type.
            status, fresh, nothing = raw(client, again, address, name, if_none_match=fields["etag"])
            assert (status, nothing) == (304, b"")
            assert {name: fresh[name] for name in ("etag", "cache-control", "vary")} == {
                name: fields[name] for name in ("etag", "cache-control", "vary")
            }
            assert not {"content-length", "content-type", "content-encoding"} & set(fresh)
        # RFC 9111, section 4.3.1: the tag of one coding does not stand for another one.
        assert raw(client, "GET", address, "identity", if_none_match=fields["etag"])[0] == 200
        assert raw(client, "GET", address, name, if_none_match=plain["etag"])[0] == 200
    assert len(tags) == 3


@pytest.mark.parametrize("coding", [None, "gzip", "zstd", "identity", "gzip, identity;q=0"])
@pytest.mark.parametrize("address", [LONG, SHORT, "/v1/releases", "/v1/parts/sheet?kind=water_pump&format=csv"])
def test_head_says_what_get_would(client: Client, address: str, coding: str | None) -> None:
    """RFC 9110, section 9.3.2: the same fields, no content; section 8.6 for the length."""
    _, got, body = raw(client, "GET", address, coding)
    status, head, nothing = raw(client, "HEAD", address, coding)
    assert (status, nothing) == (200, b"")
    own = ("x-request-id", "server-timing")
    assert {n: v for n, v in head.items() if n not in own} == {n: v for n, v in got.items() if n not in own}
    assert int(head["content-length"]) == len(body)


def test_a_short_answer_is_not_coded_unless_it_has_to_be(client: Client) -> None:
    _, fields, body = raw(client, "GET", SHORT, "gzip, zstd")
    assert len(body) < LEAST_BYTES
    assert "content-encoding" not in fields
    _, forced, coded = raw(client, "GET", SHORT, "gzip, identity;q=0")
    assert forced["content-encoding"] == "gzip"
    assert gzip.decompress(coded) == body
    assert forced["etag"] != fields["etag"]
    for address in ("/metrics", "/livez", "/readyz"):
        assert "content-encoding" not in raw(client, "GET", address, "gzip, zstd")[1]


@pytest.mark.parametrize("address", [LONG, "/v1/parts", "/schema"])
def test_who_takes_no_coding_gets_406(client: Client, address: str) -> None:
    """RFC 9110, section 15.5.7; section 12.5.3: `identity;q=0` or `*;q=0` rules out what is not coded."""
    for refused in ("identity;q=0", "*;q=0", "br, identity;q=0"):
        status, fields, body = raw(client, "GET", address, refused)
        assert status == 406
        assert fields["content-type"] == "application/problem+json"
        assert b"gzip" in body
        assert "Accept-Encoding" in fields["vary"]


def test_a_post_is_coded_as_the_get_is(client: Client) -> None:
    build = {"engine": "ENG-R10", "accessory_drive": "DR-541"}
    for coding in ("gzip", "zstd", "identity"):
        posted = client.post("/v1/fits?detail=brief", json=build, headers={"accept-encoding": coding})
        status, fields, _ = raw(client, "GET", LONG, coding)
        assert status == posted.status_code == 200
        assert posted.headers["etag"] == fields["etag"]
        assert posted.headers.get("content-encoding", "identity") == coding
        assert posted.headers["content-length"] == fields["content-length"]


def test_labels_tell_the_libraries_apart() -> None:
    assert zlib.ZLIB_RUNTIME_VERSION in GZIP.label
    assert ".".join(map(str, zstandard.ZSTD_VERSION)) in ZSTD.label
    assert len({coding.label for coding in (GZIP, ZSTD, IDENTITY, coding_for("gzip, *;q=0"))}) == 4  # type: ignore[union-attr]
