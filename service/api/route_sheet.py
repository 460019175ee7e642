"""The reference sheet of a kind, for a wall or a spreadsheet: as JSON, or as CSV (RFC 4180)."""

import csv
import io
from typing import Annotated, Any, Final, Literal

import msgspec
from msgspec import UNSET, Meta, UnsetType

from catalog.domain import Kind, Release, Status
from catalog.units import NM_PER_INCH, millimetres
from service.api import render
from service.api.answering import JSON_TYPE
from service.api.negotiation import accepts
from service.api.operations import FROM_THE_CATALOG, Asked, CatalogQuery, Operation, Reply, Text
from service.api.problems import Refusal
from service.api.render import Units
from service.api.wire import ReleaseName, Wire
from service.identify.sheet import Row, Served, Sheet, sheet

CSV_TYPE: Final = "text/csv"
_encode = msgspec.json.Encoder(order="deterministic").encode


class SheetQuery(CatalogQuery, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Of which kind, and in which form."""

    kind: Annotated[Kind, Meta(description="The kind of part.")]
    format: (
        Annotated[
            Literal["json", "csv"],
            Meta(
                description="`csv` answers `text/csv` in UTF-8, lengths in `units`; where it is left out the Accept "
                "header decides, and a link needs none."
            ),
        ]
        | UnsetType
    ) = UNSET


class PlaneServed(Wire, frozen=True, kw_only=True):
    """A drive in whose plane the pump's pulley runs, bolted straight on the block."""

    drive: Annotated[str, Meta(description="The drive.")]
    plane_mm: Annotated[float, Meta(description="Of the belt, from the block's pump face.")]
    verdict: Annotated[Literal["ok", "measure_first"], Meta(description="Whether that is sure within the doubt.")]


class SheetRow(Wire, frozen=True, kw_only=True):
    """What the sheet says of one part."""

    part: Annotated[str, Meta(description="Its number.")]
    name: Annotated[str, Meta(description="Its name.")]
    aliases: Annotated[list[str], Meta(description="Casting numbers and old numbers.")]
    status: Annotated[Status, Meta(description="Whether it is still offered.")]
    replaced_by: Annotated[str, Meta(description="The part offered in its place.")] | UnsetType = UNSET
    first_year: Annotated[int, Meta(description="First model year.")] | UnsetType = UNSET
    last_year: Annotated[int, Meta(description="Last model year.")] | UnsetType = UNSET
    generation: Annotated[str, Meta(description="The shop's own word.")] | UnsetType = UNSET
    housing: Annotated[str, Meta(description="The thermostat housing's face that it has.")] | UnsetType = UNSET
    readings_mm: Annotated[dict[str, float], Meta(description="Nominal measures.")]
    cues: Annotated[dict[str, str], Meta(description="Its answer to each cue that it has.")]
    planes_served: Annotated[
        list[PlaneServed], Meta(description="Drives in whose plane its pulley runs, bolted straight on.")
    ]
    tallest_cover_mm: (
        Annotated[float, Meta(description="The tallest cover that clears its middle, bolted straight on.")] | UnsetType
    ) = UNSET
    covers: Annotated[list[str], Meta(description="Covers that clear it in every zone, bolted straight on.")]


class SheetAnswer(Wire, frozen=True, kw_only=True):
    """The reference sheet of a kind."""

    release: Annotated[ReleaseName, Meta(description="The release answered from.")]
    kind: Annotated[Kind, Meta(description="The kind asked for.")]
    readings: Annotated[list[str], Meta(description="Every measure in the sheet, in the order of its columns.")]
    questions: Annotated[dict[str, str], Meta(description="Every cue in the sheet, with its question.")]
    rows: Annotated[list[SheetRow], Meta(description="In order of part number.")]


def _answer(asked: Asked) -> Reply:
    query: SheetQuery = asked.query
    graph = asked.live.graph(query.reference)
    snapshot = graph.snapshot

    form = _form(asked)

    def make() -> SheetAnswer | Text:
        found = sheet(graph, query.kind)
        if form == "csv":
            return Text(as_csv(found, query.units), CSV_TYPE)
        return as_json(found, snapshot.release)

    key = ("sheet", query.kind, form, query.units)
    return Reply(make=make, release=snapshot.release, key=key, pinned=query.reference is not None)


def _form(asked: Asked) -> str:
    form = asked.query.format
    if form is UNSET:
        return "json" if accepts(asked.accept, JSON_TYPE) else "csv"
    media_type = CSV_TYPE if form == "csv" else JSON_TYPE
    if not accepts(asked.accept, media_type):
        raise Refusal(
            "not-acceptable", f"format={form} is answered as {media_type}, which the request does not accept."
        )
    return str(form)


def as_json(found: Sheet, release: Release) -> SheetAnswer:
    """The sheet on the wire."""
    return SheetAnswer(
        release=render.release_name(release),
        kind=found.kind,
        readings=list(found.readings),
        questions=dict(found.cues),
        rows=[_row(row) for row in found.rows],
    )


def _row(row: Row) -> SheetRow:
    years = {name: row.part.attributes.get(name, UNSET) for name in ("first_year", "last_year", "generation")}
    return SheetRow(
        part=row.part.number,
        name=row.part.name,
        aliases=list(row.part.aliases),
        status=row.part.status,
        replaced_by=row.replaced_by or UNSET,
        housing=row.housing or UNSET,
        readings_mm={name: millimetres(length) for name, length in row.readings.items()},
        cues=dict(row.cues),
        planes_served=[
            PlaneServed(drive=served.drive, plane_mm=millimetres(served.plane), verdict=served.verdict)
            for served in row.planes_served
        ],
        tallest_cover_mm=UNSET if row.tallest_cover is None else millimetres(row.tallest_cover),
        covers=list(row.covers),
        **years,  # type: ignore[arg-type]
    )


def as_csv(found: Sheet, units: Units) -> str:
    """The sheet as CSV: a header, then a row a part; lists are divided by semicolons, absent cells empty."""
    served = found.kind == "water_pump"
    covers = any(row.tallest_cover is not None for row in found.rows)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    head = ["part", "name", "aliases", "status", "replaced_by", "first_year", "last_year", "generation", "housing"]
    head += [f"{name}_{units}" for name in found.readings] + [name for name, _ in found.cues]
    writer.writerow(
        [*head, *(["planes_served"] if served else []), *([f"tallest_cover_{units}", "covers"] if covers else [])]
    )
    for row in found.rows:
        part = row.part
        cells: list[Any] = [part.number, part.name, "; ".join(part.aliases), part.status, row.replaced_by]
        cells += [part.attributes.get(name) for name in ("first_year", "last_year", "generation")] + [row.housing]
        cells += [_length(row.readings.get(name), units) for name in found.readings]
        cells += [row.cues.get(name) for name, _ in found.cues]
        cells += ["; ".join(_served(each, units) for each in row.planes_served)] if served else []
        cells += [_length(row.tallest_cover, units), "; ".join(row.covers)] if covers else []
        writer.writerow([_cell(cell) for cell in cells])
    return out.getvalue()


def _served(served: Served, units: Units) -> str:
    sure = "" if served.verdict == "ok" else ", measure first"
    return f"{served.drive} ({_length(served.plane, units)} {units}{sure})"


def _length(length: int | None, units: Units) -> float | None:
    if length is None:
        return None
    return millimetres(length) if units == "mm" else round(length / NM_PER_INCH, 3) + 0.0


def _cell(value: Any) -> Any:
    """A cell that a spreadsheet takes for what it is: text that would run as a formula is led by an apostrophe."""
    if isinstance(value, str) and value.lstrip()[:1] in ("=", "+", "-", "@"):
        return f"'{value}"
    if isinstance(value, str) and value[:1] in ("\t", "\r", "\n"):
        return f"'{value}"
    return value


OPERATIONS: Final = (
    Operation(
        method="GET",
        path="/v1/parts/sheet",
        name="get_parts_sheet",
        tag="parts",
        summary="The reference sheet of a kind: readings, cues, planes served, covers",
        description="Every part of the kind, retired ones too. In CSV a text that a spreadsheet would run as a formula "
        "is led by an apostrophe.",
        answer=_answer,
        query=SheetQuery,
        result=SheetAnswer,
        other_types=(CSV_TYPE,),
        problems=FROM_THE_CATALOG,
    ),
)
