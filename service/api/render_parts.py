"""From what suits a build to what is answered."""

from collections import Counter
from collections.abc import Mapping
from typing import Final

import msgspec
from msgspec import UNSET, UnsetType

from catalog.domain import Kind, Part, Snapshot
from service.api import render, render_told, wire_parts
from service.fit import wording
from service.fit.build import Build
from service.fit.question import SLOTS
from service.fit.which import Found, Suits, Which
from service.fit.wording.parts import WHY, which_text
from service.fit.wording.told_once import against_text

_encode = msgspec.json.Encoder(order="deterministic").encode


def parts(found: Found, snapshot: Snapshot, manner: render.Manner) -> wire_parts.PartsSuit:
    """Every part with counts, on the wire."""
    kinds, codes = _counted(found)
    return wire_parts.PartsSuit(
        release=render.release_name(snapshot.release),
        build=found.build,
        text=wording.parts_text(found.build, found.told) if manner.full else UNSET,
        challenged=[render.challenged(each, manner) for each in found.challenged],
        **render_told.told(found.told, manner.units, full=manner.full),
        # Bytes that are ready are sent as they are.
        parts=msgspec.Raw(f"[{_lines(found, snapshot, manner, ',')}]".encode()),  # type: ignore[arg-type]
        kinds=[
            wire_parts.KindCount(
                kind=kind,
                fits=count["fits"],
                fits_with=count["fits_with"],
                measure_first=count["measure_first"],
                no=count["no"],
                not_concerned=count["not_concerned"],
            )
            for kind, count in sorted(kinds.items())
        ],
        codes=[wire_parts.CodeCount(code=code, parts=count) for code, count in sorted(codes.items())],
        decided=found.decided,
    )


def _counted(found: Found) -> tuple[dict[Kind, Counter[str]], Counter[str]]:
    """By kind how many parts suit in which way, and how many have each code."""
    kinds: dict[Kind, Counter[str]] = {kind: Counter() for kind in found.kinds}
    codes: Counter[str] = Counter()
    told = {which.part.kind for which in found.found.values()}
    runs = (numbers for kind, numbers in found.runs if kind in told)
    for which in (found.found[number] for numbers in runs for number in numbers if number in found.found):
        kinds[which.part.kind][which.suits] += 1
        code = _code(which)
        if code is not UNSET:
            codes[code] += 1
    for kind, count in kinds.items():
        rest = found.kinds[kind] - count.total()
        if rest:
            suits, why = found.others[kind]
            count[suits] += rest
            codes[why] += rest
    return kinds, codes


def one_a_line(found: Found, snapshot: Snapshot, manner: render.Manner) -> str:
    """A line of JSON a part, and nothing else, so that every line is a row; each says what it was checked against."""
    return _lines(found, snapshot, manner, "\n") + "\n"


def _lines(found: Found, snapshot: Snapshot, manner: render.Manner, between: str) -> str:
    """The JSON of each part that was asked for, with this between one and the next.

    Of nearly all parts of a large catalog nothing is said but what is said of their kind. That is encoded once, and
    only the numbers put in, which need no escaping (`vocabulary.PART_NUMBER`).
    """
    against = against_text(found.build, found.told.not_checked)
    of_build = {part: against_text(found.build, found.told.not_checked, part) for part in _named(found.build)}
    own = {
        number: _encoded(which, snapshot.parts, manner, of_build.get(number, against))
        for number, which in found.found.items()
    }
    told = {which.part.kind for which in found.found.values()}
    lines: list[str] = []
    for kind, numbers in found.runs:
        before, after = _around(kind, *found.others[kind], manner)
        joint = after + between + before
        start = 0
        places = [at for at, number in enumerate(numbers) if number in own] if kind in told else []
        for place in (*places, len(numbers)):
            if start < place:
                lines.append(before + joint.join(numbers[start:place]) + after)
            if place < len(numbers):
                lines.append(own[numbers[place]])
            start = place + 1
    return between.join(lines)


def _named(build: Build) -> list[str]:
    """Numbers of the parts that a build names."""
    said = [getattr(build, field) for field in SLOTS]
    return [value for value in said if isinstance(value, str)]


def _encoded(which: Which, known: Mapping[str, Part], manner: render.Manner, against: str) -> str:
    """The JSON of a part of which something is said; encoded once where other questions have it too."""
    if which.derived is None:
        return _encode(_line(which, known, manner, against)).decode()
    key = (manner, against)
    return which.derived.get(key, lambda which: _encode(_line(which, known, manner, against)).decode())


def _around(kind: Kind, suits: Suits, why: str, manner: render.Manner) -> tuple[str, str]:
    """What stands before and after the number of a part of which only that is said."""
    line = wire_parts.PartSuits(part=_NUMBER, kind=kind, suits=suits, code=why, text=WHY[why] if manner.full else UNSET)
    before, _, after = _encode(line).decode().partition(_NUMBER)
    return before, after


_NUMBER: Final = "N"


def _line(which: Which, known: Mapping[str, Part], manner: render.Manner, against: str) -> wire_parts.PartSuits:
    return wire_parts.PartSuits(
        part=which.part.number,
        kind=which.part.kind,
        suits=which.suits,
        with_=list(which.with_) if which.with_ else UNSET,
        code=_code(which),
        text=which_text(which, known, manner.units, against) if manner.full else UNSET,
    )


def _code(which: Which) -> str | UnsetType:
    check = which.check if which.ruled_out is None else which.ruled_out.check
    return check.code if check is not None else which.why or UNSET
