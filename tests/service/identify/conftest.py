"""The demo's newest release as a graph."""

from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from catalog.domain import Snapshot
from service.fit.graph import ConstraintGraph
from service.identify.answer import Answer
from service.identify.engine import identify
from service.identify.request import Identification
from tests.bench.identify import demo

Ask = Callable[..., Answer]


@pytest.fixture(scope="session")
def snapshot() -> Snapshot:
    return demo()


@pytest.fixture(scope="session")
def graph(snapshot: Snapshot) -> ConstraintGraph:
    return ConstraintGraph(snapshot)


@pytest.fixture
def ask(graph: ConstraintGraph) -> Ask:
    """Ask of the demo: `ask(kind="water_pump", seen={"neck": "bolted on"}, measured={"nose": "6 in"})`."""

    def ask(*, seen: dict[str, str] | None = None, measured: dict[str, Any] | None = None, **more: Any) -> Answer:
        raw = {
            "seen": [{"cue": cue, "answer": answer} for cue, answer in (seen or {}).items()],
            "measured": [{"measure": name, "value": value} for name, value in (measured or {}).items()],
        }
        return identify(graph, msgspec.convert(raw | more, Identification))

    return ask
