"""`python -m tests.bench`: run measurements with their peers, print a Markdown table, write it and JSON where asked."""

import argparse
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter
from typing import Final

from tests.bench import (
    measure_answers,
    measure_costs,
    measure_diagnosis,
    measure_http,
    measure_load,
    measure_memory,
    measure_parts,
    measure_soak,
    measure_switch,
)
from tests.bench.results import Result, as_json, markdown
from tests.bench.setting import SIZES, Setting

MEASUREMENTS: Final[dict[str, Callable[[Setting], Iterable[Result]]]] = {
    "core": measure_answers.core,
    "growth": measure_answers.growth,
    "parts": measure_parts.parts,
    "diagnosis": measure_diagnosis.diagnosis,
    "load": measure_load.load,
    "cached": measure_http.cached,
    "uncached": measure_http.uncached,
    "costs": measure_costs.costs,
    "memory": measure_memory.memory,
    "switch": measure_switch.switch,
    "soak": measure_soak.soak,
}
"""By name, in the order in which they run. Each takes the setting and gives its rows."""


def main(arguments: list[str] | None = None) -> None:
    """Run what the arguments ask for."""
    given = _parser().parse_args(arguments)
    results: list[Result] = []
    with TemporaryDirectory(prefix="beltplane-bench-") as folder:
        setting = Setting(Path(folder), tuple(given.sizes), given.seed, given.seconds, given.requests)
        for name in given.only or MEASUREMENTS:
            started = perf_counter()
            rows = list(MEASUREMENTS[name](setting))
            results += rows
            setting.forget()
            print(markdown(rows), end="", file=sys.stderr)  # so that a run that is cut has told what it had
            print(f"{name}: {perf_counter() - started:.0f} s", file=sys.stderr, flush=True)
    table = markdown(results)
    print(table, end="")
    if given.markdown is not None:
        given.markdown.write_text(table, encoding="utf-8")
    if given.json is not None:
        given.json.write_bytes(as_json(results))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument(
        "--only", nargs="+", choices=list(MEASUREMENTS), help="measurements to run; all are run without"
    )
    parser.add_argument("--sizes", nargs="+", type=int, default=SIZES, help="parts of the made catalogs")
    parser.add_argument("--seed", type=int, default=1, help="names the made catalogs")
    parser.add_argument("--seconds", type=float, default=5, help="how long each comparison goes on, at least")
    parser.add_argument("--requests", type=int, default=100_000, help="requests of the soak")
    parser.add_argument("--json", type=Path, help="a file for all that was measured")
    parser.add_argument("--markdown", type=Path, help="a file for the table")
    return parser


if __name__ == "__main__":
    main()
