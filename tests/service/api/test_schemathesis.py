"""The running application against its own document: every check of schemathesis, single calls and chains of them.

Seeded, so that every run makes the same requests.
"""

from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import run_state_machine_as_test
from litestar.types import Receive, Scope, Send
from schemathesis import Case
from schemathesis.config import SchemathesisConfig

from service.api.app import create_app
from service.api.settings import Settings

CONFIG = {
    "seed": 20260302,
    "checks": {
        "positive_data_acceptance": {"expected-statuses": ["2xx", "3xx", "404", "410", "422"]},
        "negative_data_rejection": {"expected-statuses": ["400", "404", "405", "406", "413", "415"]},
    },
}
HOLD_A_BUILD = ["compare_fits", "fit_candidates", "ask_which_parts_fit", "get_which_parts_fit"]
"""Operations that hold whole builds, or all that one is made of."""
QUIET = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
running = [create_app(Settings(database="sqlite:///not-yet.db"))]
"""The application that is asked; a fixture puts the demo's on top. The document needs no catalog."""


async def app(scope: Scope, receive: Receive, send: Send) -> None:
    await running[-1](scope, receive, send)


schema = schemathesis.openapi.from_asgi("/schema/openapi.json", app, config=SchemathesisConfig.from_dict(CONFIG))
# These hold whole builds, each of whose fields is covered where a build is asked by itself; covering every one of them
# again makes five thousand requests.
nested = schemathesis.openapi.from_asgi(
    "/schema/openapi.json",
    app,
    config=SchemathesisConfig.from_dict(CONFIG | {"phases": {"coverage": {"enabled": False}}}),
)


@pytest.fixture(scope="module", autouse=True)
def demo(demo_url: str) -> Iterator[None]:
    running.append(create_app(Settings(database=demo_url)))
    yield
    running.pop()


def example_settings(most: int) -> settings:
    return settings(
        max_examples=most,
        deadline=None,
        derandomize=True,
        suppress_health_check=QUIET,
        phases=[Phase.explicit, Phase.generate],
    )


@schema.exclude(operation_id=HOLD_A_BUILD).parametrize()
@example_settings(8)
def test_every_operation(case: Case[Any]) -> None:
    case.call_and_validate()


@nested.include(operation_id=HOLD_A_BUILD).parametrize()
@example_settings(8)
def test_what_holds_a_build(case: Case[Any]) -> None:
    case.call_and_validate()


def test_chains_of_operations() -> None:
    run_state_machine_as_test(
        schema.as_state_machine(),
        settings=settings(
            max_examples=10, stateful_step_count=8, deadline=None, derandomize=True, suppress_health_check=QUIET
        ),
    )
