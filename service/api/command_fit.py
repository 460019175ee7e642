"""`beltplane fit`: the question of `POST /v1/fits` at the command line, answered straight from the catalog."""

import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final, TypeVar, get_args

import click
import msgspec

from catalog.domain import Direction
from catalog.releases import UnknownRelease, WithdrawnRelease
from catalog.standards.flares import SIZE
from catalog.units import amount_text, parse_money
from service.api import render, table, table_why, wire
from service.api.elsewhere import with_releases
from service.api.faults import InvalidRequest, checked, parse_json
from service.api.live import Live
from service.api.readings import parse_reading
from service.fit.build import Build, BuildError
from service.fit.engine import fit

SLOTS: Final = {
    "engine": "engine",
    "drive": "accessory_drive",
    "cover": "front_cover",
    "pump": "pump",
    "pulley": "pulley",
    "crank_pulley": "crank_pulley",
    "radiator": "radiator",
    "heater": "heater",
    "fan": "fan",
}
"""Options that name one part, and the build's field of each."""
_OPTIONS: Final = (
    {field: f"--{option.replace('_', '-')}" for option, field in SLOTS.items()}
    | {
        name: f"--{name.replace('_', '-')}"
        for name in (
            "have",
            "measured",
            "without",
            "outlet_side",
            "outlet_direction",
            "work_at_most",
            "price_at_most",
            "rank_by",
            "limit",
            "paths_per_pump",
            "core_distance",
        )
    }
    | {"radiator_ports": "--upper and --lower", "pump_drive": "--remote"}
)
_MUST: Final = ("outlet_side", "outlet_direction", "work_at_most")
_PLAIN: Final = ("limit", "paths_per_pump", "core_distance")


_BUILD: Final = (
    click.option("--engine", metavar="PART", help="The engine. Needed here or in --file."),
    click.option("--drive", metavar="PART", help="The accessory drive."),
    click.option("--cover", metavar="PART", help="The front cover."),
    click.option("--pump", metavar="PART", help="This water pump only."),
    click.option("--pulley", metavar="PART", help="This loose pump pulley only."),
    click.option("--crank-pulley", metavar="PART", help="The crank pulley."),
    click.option("--radiator", metavar="PART", help="The car's radiator."),
    click.option("--upper", metavar="PORT", help='Its upper port instead, such as "1 1/2 in hose left" or "-16".'),
    click.option("--lower", metavar="PORT", help="Its lower port; goes with --upper."),
    click.option("--core-distance", metavar="LENGTH", help="From the block's pump face to the radiator's core."),
    click.option("--heater", metavar="WHAT", help='The heater core, a size such as "5/8 in hose", or none.'),
    click.option("--fan", metavar="WHAT", help="mechanical, electric, none, or a fan."),
    click.option("--remote", is_flag=True, help="A pump elsewhere, which the belt does not drive."),
    click.option("--have", metavar="PART", multiple=True, help="A piece at hand; once for each piece."),
    click.option("--without", metavar="PART", multiple=True, help="A part not to use; may be repeated."),
    click.option(
        "--measured",
        metavar="READING",
        multiple=True,
        help='Your own reading, such as "WP-220 belt_plane=5 3/4 in tape"; may be repeated. Lengths need a unit '
        "(mm, cm, in); at the end stands drawing, caliper or tape (meant when left out).",
    ),
    click.option("--outlet-side", type=click.Choice(["left", "right"]), help="As seen from behind the engine."),
    click.option("--outlet-direction", type=click.Choice(get_args(Direction))),
    click.option("--work-at-most", type=click.Choice(["bolt_on", "hand_fit", "press", "weld", "machining"])),
    click.option("--price-at-most", metavar="MONEY", help='Such as "250 USD".'),
    click.option("--rank-by", metavar="KEYS", help="Comma-separated: work, recommended, price, margin, parts, length."),
    click.option("--limit", type=click.IntRange(1, 50), help="Options wanted; 10 where it is left out."),
    click.option("--paths-per-pump", type=click.IntRange(1, 50), help="Options for one pump; 2 where left out."),
    click.option(
        "--file",
        "file",
        type=click.Path(exists=True, dir_okay=False, allow_dash=True, path_type=Path),
        help="The build as JSON, as POST /v1/fits takes it (- reads it from standard input); options add to it.",
    ),
    click.option("--units", type=click.Choice(["mm", "in"]), default="mm", help="Units of the sentences."),
    click.option("--release", metavar="RELEASE", help="A release by number or name; the newest where it is left out."),
    click.option("--json", "as_json", is_flag=True, help="Print the answer as the service gives it."),
)
"""The options of every command that asks about a build."""


Command = TypeVar("Command", bound=Callable[..., Any])


def asks_about_a_build(command: Command) -> Command:
    """The options of a build on a command; it takes what `answered` takes."""
    for option in reversed(_BUILD):
        command = option(command)
    return command


@click.command("fit", short_help="What fits, and what else is needed.")
@asks_about_a_build
@click.pass_obj
def fit_command(live: Live, /, **asked: Any) -> None:
    """What fits this engine, this drive and this cover, ranked, with what else is needed and why.

    A field left out asks nothing. That nothing fits is an answer too: the exit status is 0 then as well,
    and --json has it under "verdict".

    \b
    beltplane fit --engine ENG-R20 --drive DR-541 --cover FC-R5
    """  # noqa: D301  (click takes the backspace for a paragraph that is not to be wrapped)
    answer = answered(live, **asked)
    if answer is not None:
        table.print_answer(answer, table.console())


@click.command("why", short_help="Why nothing fits and what would, or why the first option is first.")
@asks_about_a_build
@click.pass_obj
def why_command(live: Live, /, **asked: Any) -> None:
    """Why nothing fits this build and what would, or why the first option is the first.

    Of a build that nothing fits: what of it clashes, from each side and with what it rests on; what to give up
    or to take instead, the cheapest change first; and how near each pump comes. Of any other: what speaks for the
    first option, what to measure, what is above what and why, and what to tell for a surer answer.

    \b
    beltplane why --engine ENG-R20 --drive DR-506 --cover FC-R5
    """  # noqa: D301  (click takes the backspace for a paragraph that is not to be wrapped)
    answer = answered(live, **asked)
    if answer is not None:
        table_why.print_why(answer, table.console())


def answered(
    live: Live,
    file: Path | None,
    units: render.Units,
    release: str | None,
    as_json: bool,
    **options: Any,
) -> wire.Answer | None:
    """The answer to the build that the options make; None where it is printed already, as the service gives it.

    Raises
    ------
    click.UsageError
        With every fault of the build.
    """
    try:
        build = checked(_raw_build(file, options), Build)
        graph = live.graph(release)
        manner = render.Manner(units=units, detail="full", currency=graph.snapshot.currency)
        answer = render.answer(fit(graph, build, explain=True), graph.snapshot.release, manner)
    except InvalidRequest as invalid:
        raise _usage([f"{_place(fault.pointer)}{fault.message}" for fault in invalid.faults]) from None
    except BuildError as error:
        raise _usage(
            [
                _place(fault.pointer) + _with_nearest(fault.message, fault.nearest)
                for fault in with_releases(live, error).faults
            ]
        ) from None
    except (UnknownRelease, WithdrawnRelease) as error:
        raise _usage([str(error)]) from None
    if as_json:
        click.echo(msgspec.json.format(msgspec.json.encode(answer, order="deterministic"), indent=2).decode())
        return None
    return answer


def _raw_build(file: Path | None, options: dict[str, Any]) -> dict[str, Any]:
    """The build that file and options make, before it is checked."""
    build: Any = {} if file is None else parse_json(_read(file))
    if not isinstance(build, dict):
        raise click.UsageError("--file: must hold an object")
    build |= {field: options[option] for option, field in SLOTS.items() if options[option] is not None}
    build |= {name: options[name] for name in _PLAIN if options[name] is not None}
    if options["remote"]:
        build["pump_drive"] = "remote"
    ports = {name: _port(options[name]) for name in ("upper", "lower") if options[name] is not None}
    if ports:
        build["radiator_ports"] = ports
    if options["rank_by"] is not None:
        build["rank_by"] = [key.strip() for key in options["rank_by"].split(",")]
    _add(build, "have", list(options["have"]))
    _add(build, "measured", [_reading(text) for text in options["measured"]])
    must = build.setdefault("must", {})
    if isinstance(must, dict):
        must |= {name: options[name] for name in _MUST if options[name] is not None}
        _add(must, "without", list(options["without"]))
        if options["price_at_most"] is not None:
            must["price_at_most"] = _amount(options["price_at_most"])
    return build


def _port(text: str) -> dict[str, str]:
    """A radiator's port as it is said: a size or a connection, then its side where that is told."""
    said, _, side = text.strip().rpartition(" ")
    if side not in ("left", "right", "centre"):
        said, side = text.strip(), ""
    port = {"size" if re.fullmatch(SIZE, said) else "connection": said}
    return port | ({"side": side} if side else {})


def _add(fields: dict[str, Any], name: str, entries: list[Any]) -> None:
    """Add to a list that the file may have begun; what is no list there is left to be found fault with."""
    if entries and isinstance(fields.setdefault(name, []), list):
        fields[name] = [*fields[name], *entries]


def _read(file: Path) -> bytes:
    return sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()


def _reading(text: str) -> dict[str, Any]:
    try:
        return parse_reading(text)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--measured") from None


def _amount(text: str) -> dict[str, Any]:
    try:
        minor, currency = parse_money(text)
    except ValueError as error:
        raise click.BadParameter(str(error), param_hint="--price-at-most") from None
    return {"amount": float(amount_text(minor, currency)), "currency": currency}


def _usage(messages: list[str]) -> click.UsageError:
    return click.UsageError("\n  ".join(messages) if len(messages) == 1 else "\n  " + "\n  ".join(messages))


def _place(pointer: str) -> str:
    """The option, or else the place in the build, that a pointer leads to."""
    steps = pointer.removeprefix("/must").split("/")
    if len(steps) < 2:
        return f"{pointer}: " if pointer else ""
    option = _OPTIONS.get(steps[1])
    return f"{pointer}: " if option is None else f"{option}: "


def _with_nearest(message: str, nearest: tuple[str, ...]) -> str:
    return f"{message} Nearest: {', '.join(nearest)}." if nearest else message
