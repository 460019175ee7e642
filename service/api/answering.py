"""From what an answer follows from to its response: tag, 304, what is kept, content coding, time spent."""

from asyncio import wrap_future
from collections.abc import Callable, Mapping
from contextlib import suppress
from importlib.metadata import version
from typing import Any, Final

import msgspec
from litestar import Request

from service.api import conditional, spent
from service.api.again import TAG
from service.api.codings import CODINGS, IDENTITY, Coding, coding_for
from service.api.kept import BeingMade, Content, Kept, MakeAhead
from service.api.negotiation import field
from service.api.operations import Reply, Text
from service.api.problems import Refusal
from service.api.sent import Sent
from service.api.spent import Spent
from service.api.turns import Turns

JSON_TYPE: Final = "application/json"
Basis = tuple[str | bytes, ...]
PROGRAM_VERSION: Final = version("beltplane")
_TURNS: Final = Turns()
_encode = msgspec.json.Encoder(order="deterministic").encode


class Answering:
    """One request on its way to its response."""

    def __init__(self, request: Request[Any, Any, Any], kept: Kept, spent: Spent) -> None:
        """A request that lets no content coding through is refused."""
        coding = coding_for(field(request.headers, "accept-encoding"))
        if coding is None:
            known = ", ".join(each.name for each in CODINGS)
            raise Refusal("not-acceptable", f"Answers are coded as {known}; the request lets none of these through.")
        self.spent = spent
        self.coding = coding
        self._waited = False
        self._others: tuple[str, Content] | None = None
        """What another request made, under its tag."""
        self._kept = kept
        self._scope: Any = request.scope
        self._if_none_match = None if request.method == "POST" else field(request.headers, "if-none-match")

    async def wait_for(self, being_made: BeingMade) -> None:
        """Wait until another request has made the same answer; where it failed, this one finds out by itself."""
        self._waited = True
        with suppress(Exception):
            self._others = being_made.tag, await wrap_future(being_made.other)
        self.spent.mark("wait")

    def plain(self, make: Callable[[], msgspec.Struct | Text]) -> Content:
        """What `make` gives, encoded."""
        with _TURNS.turn():
            self.spent.mark("wait")
            made = make()
        self.spent.mark("answer")
        content = encoded(made)
        self.spent.mark("encode")
        return content

    def uncached(self, content: Content) -> Sent:
        """A response that nobody may keep, as it is."""
        return self._response(content, {"Cache-Control": conditional.NEVER})

    def cached(
        self,
        make: Callable[[], Content],
        basis: Basis,
        headers: Mapping[str, str],
        *,
        learn: bool,
        ahead: MakeAhead | None = None,
    ) -> Sent:
        """A response that is kept, with 304 where the asker has it.

        Parameters
        ----------
        make
            Makes the content where it is not kept; to be called from any thread.
        basis
            All that the content follows from, besides program and coding.
        headers
            Fields besides those of every such response.
        learn
            Whether it stays the same as long as the same release answers, so that who asks the same again need not
            come here.
        ahead
            Makes it from the next release, before that one answers.
        """
        tag = tag_of(self.coding, basis)
        headers = {"ETag": tag, "Vary": conditional.VARY, **headers}
        if conditional.matches(self._if_none_match, tag):
            headers[spent.HEADER] = self.spent.text()
            return Sent.unchanged(headers)
        content = self._found(tag, make, basis, ahead)
        if learn:
            self._scope[TAG] = tag
        return self._response(content, headers)

    def _found(self, tag: str, make: Callable[[], Content], basis: Basis, ahead: MakeAhead | None) -> Content:
        """The content in the coding that is asked for: kept, made by another request at this moment, or made."""
        found = self._kept.content(tag)
        if found is None and self._others is not None and self._others[0] == tag:
            found = self._others[1]
        if found is not None:
            self.spent.cache = "joined" if self._waited else "hit"
        elif self._waited:
            found = self._coded(make, basis)
        else:
            size = 0 if ahead is None else held_by(basis)
            found = self._kept.make(tag, lambda: self._coded(make, basis), size, ahead)
        self._kept.count(hit=self.spent.cache != "miss")
        return found

    def _coded(self, make: Callable[[], Content], basis: Basis) -> Content:
        """The content in the coding that is asked for, made from what is kept in another one if there is such."""
        self.spent.cache = "miss"
        content = self._from_another(basis)
        if content is None:
            content = make()
        else:
            self.spent.cache = "hit"
        coded = in_coding(content, self.coding)
        if coded is not content:
            self.spent.mark("compress")
        return coded

    def _from_another(self, basis: Basis) -> Content | None:
        for other in CODINGS:
            kept = None if other is self.coding else self._kept.content(tag_of(other, basis))
            if kept is not None:
                body = kept.body if kept.coding == IDENTITY.name else other.decode(kept.body)
                return Content(body, kept.media_type, IDENTITY.name)
        return None

    def _response(self, content: Content, headers: dict[str, str]) -> Sent:
        if content.coding != IDENTITY.name:
            headers["Content-Encoding"] = content.coding
        headers[spent.HEADER] = self.spent.text()
        return Sent.of(content.body, content.media_type, headers)


def encoded(made: msgspec.Struct | Text) -> Content:
    """The content of an answer, in no coding."""
    if isinstance(made, Text):
        return Content(made.text.encode(), made.media_type, IDENTITY.name)
    return Content(_encode(made), JSON_TYPE, IDENTITY.name)


def in_coding(content: Content, coding: Coding) -> Content:
    """The content in a coding, or as it is where that is not worth it."""
    if coding is IDENTITY or len(content.body) < coding.least:
        return content
    return Content(coding.encode(content.body), content.media_type, coding.name)


def basis_of(reply: Reply, key: tuple[str, ...]) -> Basis:
    """All that the content of a reply follows from, besides program and coding."""
    # The whole release with its seal: a number that was withdrawn may come again with another name or note over the
    # same content, and the currency of its prices is no part of the content.
    release = () if reply.release is None else (msgspec.json.encode(reply.release),)
    return (*release, *key)


def held_by(basis: Basis) -> int:
    """About how many bytes the question takes that an answer of this basis was given to."""
    return 4 * sum(len(each) for each in basis)


def tag_of(coding: Coding, basis: Basis) -> str:
    """The entity tag of what follows from this basis, in a coding."""
    return conditional.entity_tag(PROGRAM_VERSION, coding.label, *basis)
