"""Whether the process runs and whether it can answer."""

from typing import Final

from catalog.database import DatabaseFault
from service.api import render, wire_catalog
from service.api.operations import FROM_THE_CATALOG, Asked, Operation, Reply
from service.api.problems import Refusal
from service.api.refusals import RETRY


def _alive(_: Asked) -> Reply:
    return Reply(make=lambda: wire_catalog.Alive(status="alive"), cached=False)


def _ready(asked: Asked) -> Reply:
    try:
        release = asked.live.ready()
    except DatabaseFault as fault:
        raise Refusal("catalog-unavailable", str(fault), headers=RETRY) from fault
    return Reply(make=lambda: wire_catalog.Ready(status="ready", release=render.release_name(release)), cached=False)


OPERATIONS: Final = (
    Operation(
        method="GET",
        path="/livez",
        name="alive",
        tag="health",
        summary="Whether the process runs",
        answer=_alive,
        result=wire_catalog.Alive,
    ),
    Operation(
        method="GET",
        path="/readyz",
        name="ready",
        tag="health",
        summary="Whether the catalog can be read and its newest release is loaded",
        answer=_ready,
        result=wire_catalog.Ready,
        problems={503: FROM_THE_CATALOG[503]},
    ),
)
