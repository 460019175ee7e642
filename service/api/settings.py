"""Where the service finds its catalog: from the environment, so that every worker process reads the same."""

import os
from collections.abc import Mapping
from pathlib import Path

import msgspec

DEFAULT_DATABASE = "sqlite:///beltplane.sqlite"
DEFAULT_CATALOG = str(Path(__file__).parents[2] / "migrations" / "demo")


class Settings(msgspec.Struct, frozen=True):
    """`database` is a SQLAlchemy URL, `catalog` the folder of the migrations that make the catalog."""

    database: str = DEFAULT_DATABASE
    catalog: str = DEFAULT_CATALOG

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> "Settings":
        """Settings of `BELTPLANE_DATABASE` and `BELTPLANE_CATALOG`."""
        return cls(
            database=environment.get("BELTPLANE_DATABASE") or DEFAULT_DATABASE,
            catalog=environment.get("BELTPLANE_CATALOG") or DEFAULT_CATALOG,
        )
