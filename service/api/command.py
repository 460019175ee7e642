"""The command line `beltplane`. Exit status: 0 answered, 1 something failed at run time, 2 wrong usage."""

import os
import socket
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from typing import Any

import click
from granian.constants import Interfaces
from granian.server import Server

from catalog.database import DatabaseFault
from catalog.migrate import DATABASE_SETTING
from catalog.publish import CatalogFaults
from service.api.answering import PROGRAM_VERSION
from service.api.command_catalog import catalog
from service.api.command_effects import effects_command
from service.api.command_fit import fit_command, why_command
from service.api.command_identify import identify_command
from service.api.command_propose import propose_command, revert_command
from service.api.command_releases import downgrade_command, sql_command
from service.api.live import Live
from service.api.settings import CACHE_SETTING, DEFAULT_CACHE_MB, DEFAULT_DATABASE, MOST_CACHE_MB


class _Group(click.Group):
    """Faults of the catalog end in one plain sentence and exit status 1."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except (DatabaseFault, CatalogFaults) as fault:
            raise click.ClickException(str(fault)) from fault


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(PROGRAM_VERSION, prog_name="beltplane")
@click.option(
    "--database",
    metavar="URL",
    envvar=DATABASE_SETTING,
    default=DEFAULT_DATABASE,
    show_default=True,
    show_envvar=True,
    help="The catalog's database.",
)
@click.pass_context
def main(context: click.Context, database: str) -> None:
    """Which parts at the front of an engine go together, what else is needed, and why.

    Exit status: 0 answered (that nothing fits is an answer), 1 something failed, 2 wrong usage.

    Answers do not replace the engine maker's manual: local codes and a licensed mechanic have the last word.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    live = Live(database)
    context.obj = live
    context.call_on_close(live.close)
    context.meta["database"] = database


main.add_command(fit_command)
main.add_command(why_command)
main.add_command(catalog)
catalog.add_command(propose_command)
catalog.add_command(revert_command)
catalog.add_command(effects_command)
catalog.add_command(downgrade_command)
catalog.add_command(sql_command)
main.add_command(identify_command)


def _make_ready(database: str) -> None:
    live = Live(database)
    live.ready()
    live.close()


@main.command()
@click.option("--host", envvar="BELTPLANE_HOST", default="127.0.0.1", show_default=True, show_envvar=True)
@click.option(
    "--port", type=click.IntRange(1, 65535), envvar="BELTPLANE_PORT", default=8080, show_default=True, show_envvar=True
)
@click.option(
    "--workers",
    type=click.IntRange(1, 64),
    envvar="BELTPLANE_WORKERS",
    default=1,
    show_default=True,
    show_envvar=True,
    help="Processes that answer.",
)
@click.option(
    "--cache-mb",
    type=click.IntRange(0, MOST_CACHE_MB),
    envvar=CACHE_SETTING,
    default=DEFAULT_CACHE_MB,
    show_default=True,
    show_envvar=True,
    help="Megabytes of answers that each process keeps; 0 for none.",
)
@click.pass_context
def serve(context: click.Context, host: str, port: int, workers: int, cache_mb: int) -> None:
    """Answer over HTTP. The catalog is opened read-only."""
    # In a process of its own: what this one ever held, its workers would hold as well, 260 MB for 100,000 parts.
    with ProcessPoolExecutor(1) as apart:
        apart.submit(_make_ready, context.meta["database"]).result()
    try:
        socket.create_server((host, port), family=socket.AF_INET6 if ":" in host else socket.AF_INET).close()
    except OSError as error:
        raise click.ClickException(f"Port {port} on {host} cannot be used: {os.strerror(error.errno or 0)}.") from error
    os.environ[DATABASE_SETTING] = context.meta["database"]
    os.environ[CACHE_SETTING] = str(cache_mb)
    with tempfile.TemporaryDirectory(prefix="beltplane-") as folder:
        if workers > 1:
            # Each process counts for itself; the files in this folder let any of them tell of all.
            os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", folder)
        Server("service.api.asgi:app", address=host, port=port, interface=Interfaces.ASGI, workers=workers).serve()
