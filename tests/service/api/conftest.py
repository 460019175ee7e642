"""The demo catalog, published once, and the application over it."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from litestar.testing import TestClient

from catalog.migrate import upgrade
from service.api.app import create_app
from service.api.outer import Outer
from service.api.settings import Settings

DEMO = Path(__file__).parents[3] / "migrations" / "demo"
Client = TestClient[Outer]
NEEDED = {
    "get_fits": {"engine": "ENG-R10"},
    "get_which_parts_fit": {"engine": "ENG-R10", "parts": "WP-227,SP-34"},
    "get_parts_sheet": {"kind": "water_pump"},
}
"""The parameters that an operation cannot do without."""
BODIES: dict[str, dict[str, Any]] = {
    "compare_fits": {"build": {"engine": "ENG-R20", "pump": "WP-227"}, "changes": [{"give_up": ["pump"]}]},
    "ask_which_parts_fit": {"build": {"engine": "ENG-R20"}, "parts": ["WP-227", "SP-34"]},
    "identify_part": {"kind": "water_pump"},
    "fit_candidates": {"identification": {"kind": "water_pump"}, "build": {"engine": "ENG-R20"}},
}
"""A body of each operation that takes another one than a build."""


@pytest.fixture(scope="session")
def demo_url(tmp_path_factory: pytest.TempPathFactory) -> str:
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'catalog.db'}"
    upgrade(url, DEMO)
    return url


@pytest.fixture(scope="session")
def client(demo_url: str) -> Iterator[Client]:
    with TestClient(create_app(Settings(database=demo_url))) as found:
        yield found
