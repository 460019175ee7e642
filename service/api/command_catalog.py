"""`beltplane catalog`: make it, look into it, and keep it in sheets."""

from pathlib import Path
from typing import Any, Final

import click

from catalog.migrate import CATALOG_SETTING, upgrade
from catalog.releases import UnknownRelease, WithdrawnRelease
from catalog.sheets.example import example_lines
from catalog.sheets.write import TargetExists, release_lines, template_lines, write_sheets
from service.api import render, render_catalog, table
from service.api.command_propose import state
from service.api.elsewhere import found_in
from service.api.live import Live
from service.api.route_catalog import release_on_the_wire
from service.api.settings import DEFAULT_CATALOG

_PATH: Final = click.Path(path_type=Path)


@click.group()
def catalog() -> None:
    """The catalog: make it, look into it, keep it in sheets."""


@catalog.command("upgrade", short_help="Publish what is not yet published.")
@click.option(
    "--folder",
    metavar="FOLDER",
    envvar=CATALOG_SETTING,
    default=DEFAULT_CATALOG,
    show_envvar=True,
    type=click.Path(exists=True, file_okay=False),
    help="The migrations that make the catalog; the demo's where it is left out.",
)
@click.pass_context
def upgrade_command(context: click.Context, folder: str) -> None:
    """Bring the database to the newest schema and the newest release, making it where there is none."""
    upgrade(context.meta["database"], folder)
    release = context.obj.ready()
    click.echo(f"The catalog is at release {release.number} ({release.name}).")


@catalog.command(short_help="List releases or parts, or tell all of one part.")
@click.argument("what", required=False, metavar="[PART|RELEASE]")
@click.option("--release", metavar="RELEASE", help="The release that a part is looked up in; the newest if left out.")
@click.pass_obj
def show(live: Live, what: str | None, release: str | None) -> None:
    """List the releases, or the parts of a RELEASE (by number, name or latest), or tell all of a PART."""
    out = table.console()
    if what is None:
        table.print_releases([release_on_the_wire(each) for each in live.releases()], out)
        return
    try:
        snapshot = live.graph(release).snapshot
        part = snapshot.find(what)
        if part is not None:
            retired_in = snapshot.retired_in.get(part.number)
            table.print_part(render_catalog.part(part, snapshot.rules, _manner(snapshot.currency), retired_in), out)
        elif release is not None:
            elsewhere = found_in(live.releases_holding([what]).get(what.casefold(), []))
            raise click.UsageError(f'There is no part "{what}" in release {snapshot.release.number}.{elsewhere}')
        else:
            snapshot = live.graph(what).snapshot
            rules, manner = snapshot.rules, _manner(snapshot.currency)
            table.print_parts(
                [render_catalog.part(snapshot.parts[number], rules, manner) for number in sorted(snapshot.parts)], out
            )
    except UnknownRelease:
        raise click.UsageError(f'There is no part or release "{release or what}".') from None
    except WithdrawnRelease as error:
        raise click.UsageError(str(error)) from None


def _manner(currency: str) -> render.Manner:
    return render.Manner(units="mm", detail="full", currency=currency)


_README: Final = """# A catalog

Each file `NNNN_name.py` publishes one release; `NNNN_name.md` says what it changes, also in the answers to builds. They
are made from sheets and are never edited after they were published. Keep the folder in a repository of your own.

    export BELTPLANE_CATALOG=$PWD BELTPLANE_DATABASE=sqlite:///$PWD.sqlite      # from within this folder
    beltplane catalog template ../sheets.xlsx          # empty sheets (--filled: a small example to overwrite)
    beltplane catalog propose ../sheets.xlsx -m "..."  # writes the next migration here
    beltplane catalog upgrade                          # publishes it
    beltplane catalog export ../now.xlsx               # the newest release as sheets again
    beltplane catalog revert 1 -m "..."                # writes a migration that says what release 1 said
"""


@catalog.command("new", short_help="Make a folder for a catalog of your own.")
@click.argument("folder", type=_PATH)
def new_command(folder: Path) -> None:
    """Make an empty FOLDER for a catalog of your own; it belongs in a repository of yours."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise click.UsageError(f"{folder} is there already and is not an empty folder.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
        place = folder.absolute()
        (folder / "README.md").write_text(_README, encoding="utf-8")
    except OSError as fault:
        raise click.ClickException(f"{folder} cannot be made: {fault.strerror}.") from fault
    click.echo(f"{folder} is ready for a catalog of your own. Name it, and a database for it:")
    click.echo(f"    export {CATALOG_SETTING}={place}")
    click.echo(f"    export BELTPLANE_DATABASE=sqlite:///{place}.sqlite")
    click.echo("Next: beltplane catalog template sheets.xlsx")


@catalog.command("template", short_help="Write empty sheets to fill in.")
@click.argument("target", type=_PATH)
@click.option("--filled", is_flag=True, help="With a small working catalog of twelve invented parts, to overwrite.")
def template_command(target: Path, filled: bool) -> None:
    """Write empty sheets to TARGET: a workbook where it ends in .xlsx, else a folder of CSV files.

    Each sheet has its headings and one example line. A line whose first cell starts with # is passed over when the
    sheets are read. The sheet `words` explains every column, measure and attribute.
    """
    _written(target, example_lines() if filled else template_lines())
    click.echo("The sheet `words` explains every column. Fill the others in, then:")
    click.echo(f'    beltplane catalog propose {target} -m "Our first parts"')


@catalog.command("export", short_help="Write a release as sheets.")
@click.argument("target", type=_PATH)
@click.option("--release", metavar="RELEASE", help="The release by number or name; the newest if left out.")
@click.pass_context
def export_command(context: click.Context, target: Path, release: str | None) -> None:
    """Write a release as sheets to TARGET: a workbook where it ends in .xlsx, else a folder of CSV files.

    Proposed again as they are, they change nothing. In CSV a text that a spreadsheet would run as a formula has an
    apostrophe in front, which is taken off when it is read.
    """
    found, rows = state(context, release)
    _written(target, release_lines(rows))
    click.echo(f"They hold release {found.number} ({found.name}).")


def _written(target: Path, sheets: Any) -> None:
    try:
        paths = write_sheets(target, sheets)
    except TargetExists as fault:
        raise click.UsageError(str(fault)) from None
    except OSError as fault:
        raise click.ClickException(f"{target} cannot be written: {fault.strerror}.") from fault
    what = "the workbook" if len(paths) == 1 else f"{len(paths)} CSV files in"
    click.echo(f"Wrote {what} {target}.")
