"""The sheets that a catalog is kept in: one for each type of row, their columns, and what a cell may hold."""

from collections.abc import Mapping
from typing import Final, Literal, get_args

import msgspec

from catalog.domain import Direction, Ease, Kind, Role, RuleKind, Seal, Side, Status, Surface, TakenWith
from catalog.vocabulary import ATTRIBUTES, MEASURES, SETTLED_BY_TEST

Form = Literal["text", "choice", "yes_no", "count", "length", "price", "list", "attribute"]
Refers = Literal["part", "connection", "gasket"]
Value = str | int | bool | tuple[str, ...] | tuple[int, str] | None
"""What a cell says: a text, a count, nanometres, a list, an amount of minor units with its currency; None: nothing."""


class Column(msgspec.Struct, frozen=True):
    """A column. One without a usual value must be filled; where the usual is None the cell may stay empty."""

    heading: str
    form: Form
    meaning: str
    example: str = ""
    usual: Value | msgspec.UnsetType = msgspec.UNSET
    choices: tuple[str, ...] = ()
    """The only words that may stand there."""
    refers: Refers | None = None
    most: int = 2_147_483_647

    @property
    def required(self) -> bool:
        """Whether the cell of a new line must be filled."""
        return self.usual is msgspec.UNSET


class Sheet(msgspec.Struct, frozen=True):
    """A sheet: its table in the database, how many of its first columns name a line, and its columns."""

    name: str
    table: str
    keys: int
    columns: tuple[Column, ...]

    @property
    def headings(self) -> tuple[str, ...]:
        """The headings in their order."""
        return tuple(column.heading for column in self.columns)


def _part(meaning: str = "number of the part") -> Column:
    return Column("part", "text", meaning, "WP-501", refers="part")


def _words(type_: object) -> tuple[str, ...]:
    return tuple(get_args(type_))


_SHEETS: Final = (
    Sheet(
        "parts",
        "part",
        1,
        (
            Column("number", "text", "part number: letters, digits, full stops, _ and -", "WP-501"),
            Column("kind", "choice", "what it is", "water_pump", choices=_words(Kind)),
            Column("name", "text", "what people call it", "Hazelrook pump"),
            Column("status", "choice", "retired: no longer offered", "active", "active", _words(Status)),
            Column("recommended", "yes_no", "whether the shop recommends it", "yes", False),
        ),
    ),
    Sheet(
        "aliases",
        "alias",
        1,
        (
            Column("alias", "text", "another number of it: an old one, a casting number", "90417731"),
            _part(),
        ),
    ),
    Sheet(
        "connections",
        "connection",
        1,
        (
            Column("name", "text", "lower case words joined by underscores", "hazelrook_face"),
            Column("title", "text", "what people call it", "Hazelrook pump face"),
            Column("sort", "text", "face, hose, flare_37, thread, press, boss ...", "face"),
            Column("first_end", "text", "the end nearer the block", "block"),
            Column("second_end", "text", "the other end", "pump"),
            Column("seal", "choice", "how it seals", "gasket", choices=_words(Seal)),
            Column("pieces_per_layer", "count", "pieces of one layer; 2 for a face in two halves", "1", 1, most=100),
            Column("gasket", "text", "its gasket, where no port requires another", "GK-501", None, refers="gasket"),
            Column("bolts", "count", "bolts of a joint", "6", 0, most=100),
            Column("size", "text", 'what people call the size: "1 1/2 in hose", "-16"', "", None),
        ),
    ),
    Sheet(
        "ports",
        "port",
        2,
        (
            _part(),
            Column("name", "text", "lower case words joined by underscores", "mount"),
            Column("role", "choice", "what it is for", "mount", choices=_words(Role)),
            Column("connection", "text", "name of the connection", "hazelrook_face", refers="connection"),
            Column("end", "text", "which end of the connection it is", "pump"),
            Column("channel", "text", "supply or return, where a face has both", "", None),
            Column("side", "choice", "as seen from behind the engine", "", None, _words(Side)),
            Column("direction", "choice", "where it points", "", None, _words(Direction)),
            Column("wet", "yes_no", "whether coolant is behind it", "yes", False),
            Column("gasket", "text", "the gasket that this port requires", "", None, refers="gasket"),
        ),
    ),
    Sheet(
        "bands",
        "band",
        2,
        (
            _part("number of the pump or pulley"),
            Column("band", "count", "1 for the first, which is centred on the belt's plane; then 2 ...", "1", most=100),
            Column("from", "length", "where it begins, from the pump's flange or the pulley's own face", "128.7 mm"),
            Column("to", "length", "where it ends", "150.7 mm"),
            Column("surface", "choice", "what the belt runs on", "ribbed", choices=_words(Surface)),
            Column("grooves", "count", "grooves of a ribbed band", "6", 0, most=100),
        ),
    ),
    Sheet(
        "measures",
        "measure",
        2,
        (
            _part(),
            Column("measure", "text", "which one; the sheet `words` lists them", "belt_plane"),
            Column("value", "length", "as you read it, with its unit", "5 1/2 in"),
            Column("plus", "length", "how much more it can be; usual of how it was taken", "", None),
            Column("minus", "length", "how much less it can be; usual of how it was taken", "", None),
            Column("taken_with", "choice", "what it was read from", "drawing", "drawing", _words(TakenWith)),
            Column("source", "text", "whose reading or drawing it is", "", None),
        ),
    ),
    Sheet(
        "attributes",
        "attribute",
        2,
        (
            _part(),
            Column("attribute", "text", "which one; the sheet `words` lists them", "rotation"),
            Column("value", "attribute", "a word, a count, or yes or no", "clockwise"),
        ),
    ),
    Sheet(
        "cues",
        "cue",
        2,
        (
            _part(),
            Column("name", "text", "lower case words joined by underscores", "bolt_holes"),
            Column("question", "text", "what to ask of the part in hand", "How many bolt holes has its flange?"),
            Column("answer", "text", "the answer for this part", "six"),
            Column("answers", "list", "all answers that there are, separated by ;", "six; eight"),
            Column("ease", "choice", "whether it can be seen in the car", "in_car", choices=_words(Ease)),
            Column("error_percent", "count", "how often people get it wrong, in a hundred", "2", most=100),
        ),
    ),
    Sheet(
        "rules",
        "rule",
        1,
        (
            Column("name", "text", "lower case words joined by underscores", "hazelrook_pump_tried"),
            Column("kind", "choice", "what is known", "tested_fit", choices=_words(RuleKind)),
            _part("number of the part that it is about"),
            Column("others", "list", "numbers of the other parts, separated by ;", "SP-514", refers="part"),
            Column("settles", "list", "checks that a tested fit settles", "cover", (), SETTLED_BY_TEST),
            Column("source", "text", "who found out, and when", "shop test car, 2026", ""),
        ),
    ),
    Sheet(
        "prices",
        "price",
        1,
        (
            _part(),
            Column("price", "price", "of one piece, with its currency", "129.00 USD"),
        ),
    ),
)  # fmt: skip
SHEETS: Final[Mapping[str, Sheet]] = {sheet.name: sheet for sheet in _SHEETS}
"""The sheets by name. Parts and connections stand before what refers to them."""

WORDS: Final = "words"
"""The name of the sheet that explains the words; it is written for the reader and passed over when read back."""
WORDS_HEADINGS: Final = ("word", "sheet", "column", "meaning", "of", "needed_by", "values")


def words() -> list[tuple[str, ...]]:
    """The lines of the sheet `words`: every column, measure and attribute with its meaning."""
    lines: list[tuple[str, ...]] = []
    for sheet in SHEETS.values():
        for column in sheet.columns:
            need = "every line" if column.required else ""
            lines.append(
                (column.heading, sheet.name, column.heading, column.meaning, "", need, "; ".join(column.choices))
            )
    for name, measure in MEASURES.items():
        title = f"{name} (or {name}.zone)" if measure.suffix else name
        of, needed = "; ".join(measure.kinds), "; ".join(measure.needed_by)
        lines.append((title, "measures", "measure", measure.meaning, of, needed, "a length"))
    for name, attribute in ATTRIBUTES.items():
        kind = {str: "a text", int: "a count", bool: "yes; no"}[attribute.type]
        of, needed = "; ".join(attribute.kinds), "; ".join(attribute.needed_by)
        lines.append(
            (name, "attributes", "attribute", attribute.meaning, of, needed, "; ".join(attribute.values) or kind)
        )
    return lines
