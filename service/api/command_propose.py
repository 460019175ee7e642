"""`beltplane catalog propose` and `revert`: the next migration of a shop's own catalog, with what it changes."""

from collections.abc import Callable, Sequence
from inspect import cleandoc
from pathlib import Path
from typing import Final

import click

from catalog.database import DatabaseFault
from catalog.domain import Release
from catalog.making import Rows, snapshot_from
from catalog.migrate import CATALOG_SETTING
from catalog.migration_text import Heading
from catalog.propose import (
    MOST_TOLD,
    Newest,
    add_to_report,
    faults_of,
    newest_of,
    propose,
    put_in_place,
    state_of,
)
from catalog.releases import UnknownRelease, WithdrawnRelease
from catalog.sheets.apply import checked_sheets
from catalog.sheets.faults import MOST_FAULTS, SheetFaults
from catalog.sheets.source import LIMITS, MOST_UNPACKED
from service.api.command_effects import builds_of, compare
from service.effects.report import report

_Command = Callable[[Callable[..., None]], Callable[..., None]]
_folder: Final[_Command] = click.option(
    "--folder",
    metavar="FOLDER",
    envvar=CATALOG_SETTING,
    show_envvar=True,
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="The folder of your catalog's migrations; `beltplane catalog new` makes one.",
)


def _note(required: bool) -> _Command:
    return click.option(
        "-m",
        "--message",
        "note",
        required=required,
        metavar="TEXT",
        help="What the release says of itself, in a sentence.",
    )


_name: Final[_Command] = click.option(
    "--name", metavar="NAME", help="The release's name; made of the message if left out."
)
_on: Final[_Command] = click.option("--on", metavar="DAY", help="The release's day, as 2026-03-02; today if left out.")
_no_effects: Final[_Command] = click.option(
    "--no-effects",
    is_flag=True,
    help="Leave out of the report what the release changes of the answers to builds, which takes long for a large "
    "catalog; `beltplane catalog effects --migration` tells it at any time.",
)


@click.command("propose", short_help="Turn sheets into the next migration.")
@click.argument("files", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@_note(required=True)
@click.option(
    "--whole",
    is_flag=True,
    help="The sheets say everything: what a sheet leaves out is gone (a part is retired), an empty cell is empty. "
    "A table without a sheet stays as it is.",
)
@_name
@_on
@_no_effects
@_folder
@click.pass_context
def propose_command(
    context: click.Context,
    files: tuple[Path, ...],
    note: str,
    whole: bool,
    name: str | None,
    on: str | None,
    no_effects: bool,
    folder: Path | None,
) -> None:
    """Turn sheets into the migration that publishes them, and write it into the catalog's folder.

    FILES are CSV files, workbooks (.xlsx), or folders of them. A sheet is known by its name (parts, aliases,
    connections, ports, bands, measures, attributes, cues, rules, prices) or by its headings. They are laid over the
    newest release: they add and revise what they name. An empty cell changes nothing, a - empties one. Nothing is
    published before `beltplane catalog upgrade`.

    \b
    beltplane catalog propose sheets.xlsx -m "Our first parts"
    beltplane catalog propose measures.csv prices.csv -m "WP-501 measured again"
    """  # noqa: D301  (click takes the backspace for a paragraph that is not to be wrapped)
    folder = _own(folder)
    newest = newest_of(context.meta["database"], folder)
    try:
        after, applied = checked_sheets(newest.rows, files, whole=whole, check=faults_of)
    except SheetFaults as fault:
        raise click.ClickException(str(fault)) from None
    for line in applied.notes:
        click.echo(line)
    _place(context, newest, after, folder, note=note, name=name, on=on, no_effects=no_effects)


propose_command.help = (
    f"{cleandoc(propose_command.help or '')}\n\n"
    f"Limits: {LIMITS}; a workbook unpacks to {MOST_UNPACKED // 2**20} MB at most. "
    f"At most {MOST_FAULTS} faults are told at once, and how many more there are."
)


@click.command("revert", short_help="Write a migration back to an older release.")
@click.argument("release")
@_note(required=False)
@_name
@_on
@_no_effects
@_folder
@click.pass_context
def revert_command(
    context: click.Context,
    release: str,
    note: str | None,
    name: str | None,
    on: str | None,
    no_effects: bool,
    folder: Path | None,
) -> None:
    """Write a migration that publishes anew what an older RELEASE said: the same content, under a new number.

    The releases between stay as they are and can be asked. Parts added since are removed from the new release.
    """
    folder = _own(folder)
    newest = newest_of(context.meta["database"], folder)
    old, rows = state(context, release)
    note = note or f"Back to release {old.number} ({old.name})"
    name = name or f"back-to-{old.number}"
    _place(context, newest, rows, folder, note=note, name=name, on=on, no_effects=no_effects)


def state(context: click.Context, release: str | None) -> tuple[Release, Rows]:
    """What a release says, by its number or name; None is the newest."""
    try:
        return state_of(context.meta["database"], release)
    except (UnknownRelease, WithdrawnRelease) as fault:
        raise click.UsageError(str(fault)) from None


def _own(folder: Path | None) -> Path:
    """The folder of the asker's own catalog: the demo's is written into by nobody by accident."""
    if folder is None:
        raise click.UsageError(
            f"No folder of a catalog is named. Set {CATALOG_SETTING}, or give --folder; "
            "`beltplane catalog new` makes one."
        )
    return folder


def _place(
    context: click.Context,
    newest: Newest,
    after: Rows,
    folder: Path,
    *,
    note: str,
    name: str | None,
    on: str | None,
    no_effects: bool,
) -> None:
    """Put the migration in place, and say what it changes in the catalog and in the answers."""
    note = " ".join(note.split())
    if not note or len(note) > 400 or not note.isprintable():
        raise click.UsageError("The message is a sentence of at most 400 characters that can be printed.")
    proposal = propose(newest, after, folder=folder, note=note, name=name, on=on)
    if proposal is None:
        at = "The catalog is empty" if newest.release is None else f"That is what release {newest.release.number} says"
        click.echo(f"{at}: nothing changes, and nothing is written.")
        return
    try:
        path = put_in_place(proposal, context.meta["database"], folder)
        prose = path.with_suffix(".md").name
        heading = proposal.heading
        click.echo(f"Release {heading.number} ({heading.name}): {heading.summary}")
        _tell(proposal.report, prose)
        # The migration is there already: however long the effects take, and if they are stopped, it stays.
        effects = "Not asked for." if no_effects else _effects(newest, after, heading)
        add_to_report(path, "Effects", effects)
    except OSError as fault:
        raise DatabaseFault(f"{folder} cannot be written to: {fault.strerror}.") from fault
    click.echo("Effects")
    _tell(effects.splitlines(), prose)
    click.echo(f"Wrote {path}, and {prose} beside it. Publish it with: beltplane catalog upgrade")


def _effects(newest: Newest, after: Rows, heading: Heading) -> str:
    """What a proposed release does to builds, as `beltplane catalog effects` prints it, or why that is not told."""
    if newest.release is None:
        return "This is the first release: nobody has an answer yet that it could change."
    release = Release(heading.number, heading.name, heading.digest, heading.on, heading.note)
    old, new = snapshot_from(newest.rows, newest.release), snapshot_from(after, release)
    try:
        builds = builds_of(old, new)
        return report(compare(old, new, builds)) if builds else "The catalog holds no engine: there is nothing to ask."
    except click.ClickException as fault:
        return f"Not worked out: {fault.message}"
    except KeyboardInterrupt:
        return "Not worked out: it was stopped. `beltplane catalog effects --migration` tells them at any time."


def _tell(lines: Sequence[str], file: str) -> None:
    """Print the first lines of what the report says, and where the others are."""
    for line in lines[:MOST_TOLD]:
        click.echo(f"  {line}".rstrip())
    if len(lines) > MOST_TOLD:
        click.echo(f"  and {len(lines) - MOST_TOLD:,} more, in {file}")
