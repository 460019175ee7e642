"""Commands about releases that are there: `catalog downgrade`, and `catalog sql` for who runs statements by hand."""

import sys

import click

from catalog.migrate import CATALOG_SETTING, downgrade, print_sql
from service.api.live import Live
from service.api.settings import DEFAULT_CATALOG

_folder = click.option(
    "--folder",
    metavar="FOLDER",
    envvar=CATALOG_SETTING,
    default=DEFAULT_CATALOG,
    show_envvar=True,
    type=click.Path(exists=True, file_okay=False),
    help="The migrations that make the catalog; the demo's where it is left out.",
)


@click.command("downgrade")
@click.argument("number", type=int)
@_folder
@click.pass_context
def downgrade_command(context: click.Context, number: int, folder: str) -> None:
    """Withdraw the newest release, which NUMBER is.

    What it added goes, what it closed is open again, and its number is answered with 410 and never given to other
    content. The migration stays: `catalog upgrade` publishes the same release again, or take the file away first.
    """
    live: Live = context.obj
    releases = live.releases()
    if not releases:
        raise click.ClickException("No release is published.")
    newest = releases[-1]
    if newest.number != number:
        raise click.UsageError(f"Only the newest release can be withdrawn, and that is {newest.number}.")
    live.close()
    downgrade(context.meta["database"], folder, revision="catalog@-1")
    click.echo(f"Release {newest.number} ({newest.name}) is withdrawn.")


@click.command("sql")
@click.option(
    "--from",
    "start",
    metavar="REVISION",
    help="The catalog's migration that the database is at, by its revision; an empty database where it is left out.",
)
@_folder
@click.pass_context
def sql_command(context: click.Context, start: str | None, folder: str) -> None:
    """Print the SQL of an upgrade, to be looked over and run by hand; nothing is connected to.

    For PostgreSQL run it with `psql -v ON_ERROR_STOP=1`: each migration is one transaction, so a release is published
    as a whole or not at all. Its digest is verified when a service loads it.
    """
    print_sql(context.meta["database"], sys.stdout, folder, start)
