"""From a state of the catalog to the migration that publishes it, proven on a scratch copy before it is in place."""

import os
import re
import shutil
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

import msgspec
import sqlalchemy as sa
from alembic.script import Script, ScriptDirectory
from alembic.util import CommandError

from catalog import tables
from catalog.checks import check_snapshot
from catalog.database import DatabaseFault, open_read_only, reading
from catalog.differences import edits_between
from catalog.domain import Release
from catalog.edit_values import Edit
from catalog.making import Rows, snapshot_from
from catalog.migrate import configuration, upgrade
from catalog.migration_text import Heading, edit_lines, migration_text
from catalog.reader import digest_of, rows_at
from catalog.releases import UnknownRelease, find_release
from catalog.report import report, summary
from catalog.scratch import published_on_a_copy
from catalog.seals import check_seal
from catalog.vocabulary import RESERVED

if sys.platform != "win32":
    import fcntl

EMPTY: Final[Rows] = {table.name: [] for table in tables.VERSIONED}
"""A catalog that says nothing."""


MOST_TOLD: Final = 40
"""Lines of a report that are printed; all of them stand in the file beside the migration."""


class Newest(msgspec.Struct, frozen=True):
    """Where a catalog stands: what its newest release says, and what the next migration follows."""

    rows: Rows
    release: Release | None
    down_revision: str | None
    next_number: int
    names: frozenset[str]
    """Names that releases have or had."""
    revisions: frozenset[str]
    """All revisions in the folders."""


class Proposal(msgspec.Struct, frozen=True):
    """A migration that is ready to be put in place, with its edits and what they change in prose."""

    heading: Heading
    edits: Sequence[Edit]
    report: Sequence[str]
    file: str
    """The migration's name in the folder; the report has the same with .md, many edits with .jsonl."""
    text: str
    lines: bytes | None

    @property
    def files(self) -> list[tuple[str, bytes]]:
        """Names and contents in the order in which they are put in place: the migration last."""
        stem = self.file.removesuffix(".py")
        title = f"# Release {self.heading.number} ({self.heading.name}), {self.heading.on}\n\n{self.heading.note}\n"
        prose = title + f"\n{self.heading.summary}\n\n" + "".join(f"- {line}\n" for line in self.report)
        beside = [] if self.lines is None else [(f"{stem}.jsonl", self.lines)]
        return [*beside, (f"{stem}.md", prose.encode()), (self.file, self.text.encode())]


def newest_of(url: str, folder: Path) -> Newest:
    """Where the catalog stands, in the database and in the folder of its migrations.

    Raises
    ------
    DatabaseFault
        When the database is not at the newest migration of the folder, or cannot be read.
    """
    heads, revisions = _heads_of(folder)
    if not heads:
        return Newest(EMPTY, None, None, 1, frozenset(), revisions)
    head = heads[0].revision
    engine = open_read_only(url)
    try:
        with reading(engine) as connection:
            at = set(connection.scalars(sa.text("SELECT version_num FROM alembic_version")))
            if len(heads) > 1 or head not in at:
                raise DatabaseFault(_in_the_way(heads[0]))
            release, _ = find_release(connection)
            check_seal(connection, release.number)
            known = connection.execute(sa.select(tables.release.c.number, tables.release.c.name)).all()
            rows = rows_at(connection, release.number)
            if digest_of(rows) != release.digest:
                raise DatabaseFault(f"Release {release.number} does not hold what was published.")
    except UnknownRelease as fault:
        raise DatabaseFault(str(fault)) from fault
    finally:
        engine.dispose()
    names = frozenset(name for _, name in known)
    return Newest(rows, release, head, max(number for number, _ in known) + 1, names, revisions)


def faults_of(rows: Rows) -> list[str]:
    """What is wrong with a catalog as a whole, a sentence each."""
    return check_snapshot(snapshot_from(rows, Release(1, "proposed", "", "", "")))


def propose(
    newest: Newest, after: Rows, *, folder: Path, note: str, name: str | None = None, on: str | None = None
) -> Proposal | None:
    """The migration that leads from the newest release to another state; None where nothing differs.

    Parameters
    ----------
    note
        What the release says of itself.
    name
        The release's name; made of the note where it is left out.
    on
        The day of the release, as 2026-03-02; today where it is left out.
    """
    edits = edits_between(newest.rows, after)
    if not edits:
        return None
    number = newest.next_number
    name = _free(name or _name_of(note, number), number, newest.names)
    stem = f"{number:04}_{_slug(name)}"
    heading = Heading(
        revision=_revision(newest, folder),
        down_revision=newest.down_revision,
        number=number,
        name=name,
        on=on or date.today().isoformat(),
        note=note,
        digest=digest_of(after),
        summary=summary(edits),
    )
    lines = edit_lines(edits)
    beside = None if lines is None else (f"{stem}.jsonl", lines)
    text = migration_text(heading, edits, beside=beside)
    return Proposal(heading, edits, report(newest.rows, after, edits), f"{stem}.py", text, lines)


def put_in_place(proposal: Proposal, url: str, folder: Path) -> Path:
    """Publish a proposal on a scratch copy, then write its files into the folder, the migration last.

    A file is written beside its place and renamed into it, so that none is ever there half. What was there before
    stays as it was when anything fails. Of two proposals at the same moment one is written and the other refused.

    Returns
    -------
    The migration.

    Raises
    ------
    DatabaseFault, CatalogFaults
        When the migration does not publish what it says, or another has been proposed since; nothing is written.
    """
    with TemporaryDirectory(prefix="beltplane-") as scratch:
        copy = Path(scratch) / "catalog"
        shutil.copytree(folder, copy, ignore=lambda _, names: [name for name in names if not name.endswith(".py")])
        for name, content in proposal.files:
            (copy / name).write_bytes(content)
        if proposal.heading.down_revision is None:
            upgrade(f"sqlite:///{Path(scratch) / 'scratch.sqlite'}", copy)
        else:
            with published_on_a_copy(url, copy / proposal.file):
                pass
    with _alone_in(folder):
        heads, _ = _heads_of(folder)
        if [head.revision for head in heads if head.revision != proposal.heading.down_revision]:
            raise DatabaseFault(_in_the_way(heads[-1]))
        if (folder / proposal.file).exists():
            raise DatabaseFault(f"{folder / proposal.file} is there already.")
        _write_all(folder, proposal.files)
    return folder / proposal.file


def add_to_report(migration: Path, title: str, text: str) -> None:
    """Put a section of plain text at the end of the report that stands beside a migration, whole or not at all."""
    report_file = migration.with_suffix(".md")
    section = f"\n## {title}\n\n```text\n{text.rstrip()}\n```\n"
    _write_all(migration.parent, [(report_file.name, report_file.read_bytes() + section.encode())])


def _write_all(folder: Path, files: Iterable[tuple[str, bytes]]) -> None:
    placed: list[Path] = []
    waiting: list[tuple[Path, Path]] = []
    try:
        for name, content in files:
            temporary = folder / f".{name}.new"
            waiting.append((temporary, folder / name))
            with temporary.open("wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        for temporary, path in waiting:
            temporary.replace(path)
            placed.append(path)
    except BaseException:
        for path in [*placed, *(temporary for temporary, _ in waiting)]:
            with suppress(OSError):
                path.unlink(missing_ok=True)
        raise


def state_of(url: str, number: int | str | None) -> tuple[Release, Rows]:
    """What a release says; None is the newest.

    Raises
    ------
    DatabaseFault, UnknownRelease, WithdrawnRelease
    """
    engine = open_read_only(url)
    try:
        with reading(engine) as connection:
            release, _ = find_release(connection, number)
            return release, rows_at(connection, release.number)
    finally:
        engine.dispose()


def _heads_of(folder: Path) -> tuple[list[Script], frozenset[str]]:
    """The newest migrations of a folder's catalog (more than one where it is no line), and all revisions there are."""
    scripts = ScriptDirectory.from_config(configuration("sqlite:///none", folder))
    try:
        heads = [script for script in scripts.get_revisions("heads") if "catalog" in script.branch_labels]
        return heads, frozenset(script.revision for script in scripts.walk_revisions())
    except (CommandError, SyntaxError) as fault:
        raise DatabaseFault(f"The migrations in {folder} cannot be read: {fault}") from fault


def _in_the_way(head: Script) -> str:
    return (
        f"{Path(head.path).name} is proposed and not published. Publish it with `beltplane catalog upgrade`, or delete "
        "it (and what has its name beside it) to propose anew."
    )


@contextmanager
def _alone_in(folder: Path) -> Iterator[None]:
    """Hold the folder against every other proposal; a process that is killed lets go of it."""
    if sys.platform == "win32":  # a folder cannot be locked there
        yield
        return
    place = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(place, fcntl.LOCK_EX)
        yield
    finally:
        os.close(place)


def _revision(newest: Newest, folder: Path) -> str:
    """The next revision's identifier: as the one before with the release's number, else named after the folder."""
    found = re.fullmatch(r"(.*_)\d+", newest.down_revision or "")
    name = _slug(folder.absolute().name)[:24]
    # The demo's own are called catalog_0001 and so on; a database would take one for the other.
    stem = found[1] if found is not None else f"{'shop' if name in ('catalog', 'schema', 'demo', '') else name}_"
    number = newest.next_number
    while f"{stem}{number:04}" in newest.revisions:
        number += 1
    return f"{stem}{number:04}"


def _name_of(note: str, number: int) -> str:
    """A release's name made of its note, such as `middle-pump-measured-again`."""
    name = _slug(note).replace("_", "-")[:34].rstrip("-")
    return name if name and name[0].isalpha() and name not in RESERVED else f"release-{number}"


def _free(name: str, number: int, taken: frozenset[str]) -> str:
    return f"{name}-{number}" if name in taken else name


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_")[:40].rstrip("_")
