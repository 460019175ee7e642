"""Whether the process runs and whether it can answer."""

from typing import Final

from msgspec import UNSET

from service.api import render, wire_catalog
from service.api.operations import FROM_THE_CATALOG, Asked, Operation, Reply
from service.api.problems import Refusal
from service.api.refusals import RETRY


def _alive(_: Asked) -> Reply:
    return Reply(make=lambda: wire_catalog.Alive(status="alive"))


def _ready(asked: Asked) -> Reply:
    standing = asked.live.standing()
    if standing.release is None:
        standing = asked.live.look()
    release = standing.release
    if release is None:
        raise Refusal("catalog-unavailable", standing.fault or "The catalog is being read.", headers=RETRY)
    ready = wire_catalog.Ready(
        status="ready",
        release=render.release_name(release),
        newest=standing.newest,
        stale=standing.stale,
        age_seconds=round(standing.age, 1),
        fault=standing.fault or UNSET,
    )
    return Reply(make=lambda: ready)


OPERATIONS: Final = (
    Operation(
        method="GET",
        path="/livez",
        name="alive",
        tag="health",
        summary="Whether the process runs",
        answer=_alive,
        result=wire_catalog.Alive,
        cached=False,
    ),
    Operation(
        method="GET",
        path="/readyz",
        name="ready",
        tag="health",
        summary="Whether questions can be answered, and from which release",
        description="While the database cannot be read, or its newest release is faulty, the release that is held goes "
        "on answering: the service stays ready, and tells here that it is stale, and why.",
        answer=_ready,
        result=wire_catalog.Ready,
        cached=False,
        problems={503: FROM_THE_CATALOG[503]},
    ),
)
