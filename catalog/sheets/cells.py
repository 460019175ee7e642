"""One cell: from the text that people type to a value, and back.

What a spreadsheet would run as a formula is never written: such a text gets an apostrophe in front, which reading
takes off again.
"""

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Final

from rapidfuzz import process
from rapidfuzz.utils import default_process

from catalog.sheets.layout import Column, Value
from catalog.units import amount_text, length_text, parse_length, parse_money
from catalog.vocabulary import ATTRIBUTES

CLEAR: Final = "-"
"""What stands in a cell that says that there is nothing."""
_BEGINS: Final = "[=+\\-@|%\t\r\n\uff1d\uff0b\uff0d\uff20]"
"""How a formula begins to some spreadsheet program: the advice of OWASP on CSV injection, wide forms included."""
_FORMULA: Final = re.compile(rf"'*\s*{_BEGINS}")
QUOTED: Final = re.compile(rf"'+\s*{_BEGINS}")
"""A text from which reading takes an apostrophe off."""
_YES: Final = {"yes": True, "true": True, "y": True, "1": True, "no": False, "false": False, "n": False, "0": False}
_COMMA: Final = re.compile(r"(?P<whole>[-+]?\d{1,9}),(?P<part>\d+)(?=\D|$)")
_DATE: Final = re.compile(
    r"\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[-. /]?[A-Za-z]{3,9}\.?([-. /]?\d{2,4})?|[A-Za-z]{3}-\d{2}"
)


def guarded(text: str) -> str:
    """The text as a CSV file may hold it: with an apostrophe in front where it would be run as a formula."""
    return f"'{text}" if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """The text that was meant by a cell of a file."""
    return text[1:] if QUOTED.match(text) else text


def parse(column: Column, text: str, about: str = "", *, hints: bool = True) -> Value:
    """The value of a cell that is not empty; `about` is the attribute's name where the form is `attribute`.

    Without `hints` the nearest word is not looked for, which is dear.

    Raises
    ------
    ValueError
        Says what is wrong, and what would be right.
    """
    match column.form:
        case "text":
            return _text(text)
        case "choice":
            return _choice(text, column.choices, hints)
        case "yes_no":
            return _yes_no(text)
        case "count":
            return _count(text, column.most)
        case "length":
            return _length(text)
        case "price":
            return _price(text)
        case "list":
            items = split_list(text)
            return tuple(_choice(item, column.choices, hints) for item in items) if column.choices else items
        case "attribute":
            return _attribute(about, text)


def write(column: Column, value: Value) -> str:
    """The text of a value, as `parse` reads it."""
    match value:
        case None:
            return ""
        case bool():
            return "yes" if value else "no"
        case int() if column.form == "length":
            return length_text(value)
        case (int(amount), str(currency)):
            return f"{amount_text(amount, currency)} {currency}"
        case tuple():
            return join_list([str(item) for item in value])
        case _:
            return str(value)


def nearest(word: str, known: Iterable[str]) -> str:
    """What to say of the known word that is most like an unknown one: `; did you mean "belt_plane"?`, or nothing."""
    found = process.extractOne(word, list(known), processor=default_process, score_cutoff=60)
    return f'; did you mean "{found[0]}"?' if found else ""


def split_list(text: str) -> tuple[str, ...]:
    """Items separated by ; where one that holds a ; or begins with a quotation mark stands in quotation marks."""
    items, rest = [], text.strip()
    while rest:
        quoted = re.match(r'"((?:[^"]|"")*)"\s*(?:;|$)', rest)
        plain = quoted or re.match(r"([^;]*)(?:;|$)", rest)
        assert plain is not None  # the second pattern matches anything
        item = plain[1].replace('""', '"') if quoted else plain[1].strip()
        rest = rest[plain.end() :].lstrip()
        if item:
            items.append(item)
    return tuple(items)


def join_list(items: Iterable[str]) -> str:
    """The text of a list, as `split_list` reads it."""
    return "; ".join(
        '"' + item.replace('"', '""') + '"' if ";" in item or item.startswith('"') or item != item.strip() else item
        for item in items
    )


def _text(text: str) -> str:
    if not text.isprintable():
        raise ValueError("holds a line break or another character that cannot be printed; write it in one line")
    if len(text) > 400:
        raise ValueError(f"has {len(text):,} characters; at most 400 are kept")
    return text


def _choice(text: str, choices: tuple[str, ...], hints: bool) -> str:
    word = text.strip().lower().replace(" ", "_")
    if word not in choices:
        hint = nearest(text, choices) if hints else ""
        raise ValueError(f'"{text}" should be one of {", ".join(choices)}{hint}')
    return word


def _yes_no(text: str) -> bool:
    try:
        return _YES[text.lower()]
    except KeyError:
        raise ValueError(f'"{text}" should be yes or no') from None


def _count(text: str, most: int) -> int:
    if not re.fullmatch(r"\d{1,10}", text, re.ASCII) or int(text) > most:
        hint = "" if most > 10_000 else f" up to {most}"
        raise ValueError(f'"{text}" should be a whole number{hint}, such as 6')
    return int(text)


def _with_point(text: str) -> str:
    """A number with a decimal comma, with a point; a comma before three digits could be either and is refused."""
    found = _COMMA.search(text)
    if found is None or text.count(",") > 1 or "." in text:
        if "," in text:
            raise ValueError(f'"{text}" has a comma; write decimals with a point and thousands without a mark')
        return text
    if len(found["part"]) == 3:
        raise ValueError(
            f'"{text}" could be {found["whole"]}.{found["part"]} or {found["whole"]}{found["part"]}; '
            "write decimals with a point"
        )
    return text.replace(",", ".")


@lru_cache(maxsize=10_000)
def _length(text: str) -> int:
    if _DATE.fullmatch(text):
        raise ValueError(
            f'"{text}" is a date, perhaps made by the spreadsheet program; format the column as text and write '
            'the length with its unit, as "3/4 in"'
        )
    marked = text.replace("\u2212", "-").replace("”", '"').replace("″", '"').replace("\u00a0", " ")
    return parse_length(_with_point(marked))


def _price(text: str) -> tuple[int, str]:
    plain = _with_point(text.replace("\u00a0", " "))
    first = re.fullmatch(r"([A-Za-z]{3})\s*([\d.]+)", plain)
    last = re.fullmatch(r"([\d.]+)\s*([A-Za-z]{3})", plain)
    if first is not None:
        plain = f"{first[2]} {first[1].upper()}"
    elif last is not None:
        plain = f"{last[1]} {last[2].upper()}"
    elif re.fullmatch(r"[\d.]+", plain):
        raise ValueError(f'"{text}" has no currency; write it as "{plain} USD", in the currency of the catalog')
    return parse_money(plain)


def _attribute(name: str, text: str) -> Value:
    word = ATTRIBUTES[name]
    if word.type is bool:
        return _yes_no(text)
    if word.type is int:
        return _count(text, 10_000)
    return _choice_exact(text, word.values) if word.values else _text(text)


def _choice_exact(text: str, choices: tuple[str, ...]) -> str:
    """One of words that are written as they are ("PK", "M8x1.25"), whatever the case that was typed."""
    for choice in choices:
        if text.casefold() == choice.casefold() or text.replace(" ", "_").casefold() == choice.casefold():
            return choice
    raise ValueError(f'"{text}" should be one of {", ".join(choices)}{nearest(text, choices)}')
