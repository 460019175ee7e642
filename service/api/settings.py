"""How the service runs: from the environment, so that every worker process reads the same."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import Final

import msgspec

CACHE_SETTING: Final = "BELTPLANE_CACHE_MB"
DEFAULT_DATABASE: Final = "sqlite:///beltplane.sqlite"
DEFAULT_CATALOG: Final = str(Path(__file__).parents[2] / "migrations" / "demo")
DEFAULT_CACHE_MB: Final = 64
MOST_CACHE_MB: Final = 65_536


class WrongSetting(ValueError):
    """A setting of the environment that means nothing; a sentence says which."""


class Settings(msgspec.Struct, frozen=True):
    """How the service runs.

    `database` is a SQLAlchemy URL, `catalog` the folder of the migrations that make the catalog, `cache_mb` how many
    megabytes (of 1,000,000 bytes) of answers each worker keeps, 0 for none.
    """

    database: str = DEFAULT_DATABASE
    catalog: str = DEFAULT_CATALOG
    cache_mb: int = DEFAULT_CACHE_MB

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> "Settings":
        """The settings of the environment's variables, of which an empty one is as good as none.

        Raises
        ------
        WrongSetting
        """
        return cls(
            database=environment.get("BELTPLANE_DATABASE") or DEFAULT_DATABASE,
            catalog=environment.get("BELTPLANE_CATALOG") or DEFAULT_CATALOG,
            cache_mb=_whole(environment, CACHE_SETTING, DEFAULT_CACHE_MB, MOST_CACHE_MB),
        )


def _whole(environment: Mapping[str, str], name: str, default: int, most: int) -> int:
    text = environment.get(name, "").strip()
    if not text:
        return default
    if not (text.isascii() and text.isdigit() and int(text) <= most):
        raise WrongSetting(f'{name} must be a whole number from 0 to {most}, not "{text}".')
    return int(text)
