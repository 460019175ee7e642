"""`beltplane catalog effects`: what a release, or a proposed one, changes of the answers to builds."""

import multiprocessing
import os
import sys
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from signal import SIG_IGN, SIGINT, signal
from typing import Final

import click
import msgspec
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from catalog.domain import Snapshot
from catalog.releases import UnknownRelease, WithdrawnRelease
from catalog.scratch import published_on_a_copy
from service.api.faults import InvalidRequest, checked, parse_json
from service.api.live import Live
from service.api.operations import BODY_LIMIT
from service.effects.effects import LEAST_SHARE, Effects, effects_of, every_build
from service.effects.report import report
from service.fit.build import Build

MOST_BUILDS: Final = 100_000
MOST_FAULTS: Final = 100
"""Faulty lines told of one file of builds; the rest are counted."""


@click.command("effects", short_help="What a release changes of the answers to builds.")
@click.argument("before", required=False, metavar="[BEFORE]")
@click.argument("after", required=False, metavar="[AFTER]")
@click.option(
    "--migration",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="A proposed migration, in the folder of the others: compare the newest release with what it would publish. "
    "It is published on a scratch copy only.",
)
@click.option(
    "--builds",
    "file",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, allow_dash=True, path_type=Path),
    help=f"Builds as JSON lines, each as POST /v1/fits takes it, at most {MOST_BUILDS:,} (- reads standard input). "
    "Every engine with every drive and every cover of the catalog where it is left out.",
)
@click.option(
    "--workers", type=click.IntRange(1, 256), help="Processes that compare; as many as there are cores if left out."
)
@click.option("--json", "as_json", is_flag=True, help="Print everything as JSON.")
@click.pass_context
def effects_command(
    context: click.Context,
    before: str | None,
    after: str | None,
    migration: Path | None,
    file: Path | None,
    workers: int | None,
    as_json: bool,
) -> None:
    """Which builds gain or lose their answer, or change their first option, price or verdict, and by which edits.

    BEFORE and AFTER are releases by number or name. AFTER is the newest where it is left out, BEFORE the one
    before that. The edits named are the fewest that, made alone on BEFORE, give the new answer: the engine was
    asked. That nothing changes is an answer too: the exit status is 0.

    \b
    beltplane catalog effects 7 8
    beltplane catalog effects --migration catalog/0009_summer.py --builds orders.jsonl
    """  # noqa: D301  (click takes the backspace for a paragraph that is not to be wrapped)
    live: Live = context.obj
    builds = None if file is None else read_builds(file)
    if migration is not None:
        if before is not None:
            raise click.UsageError("--migration compares with the newest release; leave BEFORE and AFTER out.")
        old, new = _proposed(live, context.meta["database"], migration)
    else:
        old, new = _released(live, before, after)
    found = compare(old, new, builds_of(old, new) if builds is None else builds, workers)
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(found, order="deterministic"), indent=2).decode())
    else:
        click.echo(report(found), nl=False)


def builds_of(*releases: Snapshot) -> list[Build]:
    """Every engine with every drive and every cover of the releases.

    Raises
    ------
    click.UsageError
        When they are more than can be compared.
    """
    builds = every_build(*releases, most=MOST_BUILDS + 1)
    if len(builds) > MOST_BUILDS:
        raise click.UsageError(
            f"The engines, drives and covers of the catalog make more than {MOST_BUILDS:,} builds; "
            "name those that matter in a file: beltplane catalog effects --builds FILE"
        )
    return builds


def compare(before: Snapshot, after: Snapshot, builds: list[Build], workers: int | None = None) -> Effects:
    """The effects on builds, worked out on all cores, with a progress bar on standard error where it is a terminal."""
    console = Console(stderr=True)
    columns = (TextColumn("Comparing builds"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with (
        _executor(workers or _cores(), len(builds)) as executor,
        Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar,
    ):
        task = bar.add_task("", total=len(builds))
        try:
            return effects_of(before, after, builds, executor, lambda done, _: bar.update(task, completed=done))
        except BrokenExecutor as fault:
            raise click.ClickException(
                "A process that compares builds has ended before its work, perhaps for want of memory; "
                "`beltplane catalog effects --workers 1` takes the least."
            ) from fault


@contextmanager
def _executor(workers: int, builds: int) -> Iterator[Executor | None]:
    """Processes for the work; none where they would cost more than they bring."""
    if workers == 1 or builds <= LEAST_SHARE:
        yield None
        return
    # Begun afresh, not forked: there are threads about. Stopped from the keyboard it is this process that ends them.
    with ProcessPoolExecutor(
        workers,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=signal,
        initargs=(SIGINT, SIG_IGN),
    ) as executor:
        yield executor


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _released(live: Live, before: str | None, after: str | None) -> tuple[Snapshot, Snapshot]:
    try:
        new = live.graph(after).snapshot
        if before is None:
            earlier = [release for release in live.releases() if release.number < new.release.number]
            if not earlier:
                raise click.UsageError("There is one release only, and nothing to compare it with.")
            before = str(earlier[-1].number)
        return live.graph(before).snapshot, new
    except (UnknownRelease, WithdrawnRelease) as error:
        raise click.UsageError(str(error)) from None


def _proposed(live: Live, database: str, migration: Path) -> tuple[Snapshot, Snapshot]:
    old = live.graph().snapshot
    with published_on_a_copy(database, migration) as scratch:
        proposed = Live(scratch)
        try:
            new = proposed.graph().snapshot
        finally:
            proposed.close()
    if new.release.number == old.release.number:
        raise click.UsageError(f"{migration} is published already; compare two releases.")
    return old, new


def read_builds(file: Path) -> list[Build]:
    """The builds of a file of JSON lines; empty lines are passed over.

    Raises
    ------
    click.UsageError
        Names every faulty line.
    """
    builds: list[Build] = []
    faults: list[str] = []
    with sys.stdin.buffer if str(file) == "-" else file.open("rb") as lines:
        place = 0
        while line := lines.readline(BODY_LIMIT + 1):
            place += 1
            if len(line) > BODY_LIMIT:
                raise click.UsageError(f"--builds: line {place}: has more than {BODY_LIMIT:,} bytes")
            if not line.strip():
                continue
            try:
                builds.append(checked(parse_json(line), Build))
            except InvalidRequest as invalid:
                faults += [f"line {place}: {fault.pointer} {fault.message}" for fault in invalid.faults]
            if len(builds) > MOST_BUILDS:
                raise click.UsageError(f"--builds: has more than {MOST_BUILDS:,} builds")
    if len(faults) > MOST_FAULTS:
        faults = [*faults[:MOST_FAULTS], f"and {len(faults) - MOST_FAULTS:,} more"]
    if faults:
        raise click.UsageError("--builds:\n  " + "\n  ".join(faults))
    if not builds:
        raise click.UsageError("--builds: holds no build")
    return builds
