"""From what suits a build to what is answered."""

from collections import Counter
from collections.abc import Mapping

from msgspec import UNSET, UnsetType

from catalog.domain import Part, Snapshot
from service.api import render, wire_parts
from service.fit.which import Found, Which
from service.fit.wording.parts import which_text


def parts(found: Found, snapshot: Snapshot, manner: render.Manner) -> wire_parts.PartsSuit:
    """Every part with counts, on the wire."""
    lines = [_line(which, snapshot.parts, manner) for which in found.parts]
    kinds: dict[str, Counter[str]] = {}
    for line in lines:
        kinds.setdefault(line.kind, Counter())[line.suits] += 1
    codes = Counter(line.code for line in lines if line.code is not UNSET)
    return wire_parts.PartsSuit(
        release=render.release_name(snapshot.release),
        build=found.build,
        parts=lines,
        kinds=[
            wire_parts.KindCount(
                kind=kind,  # type: ignore[arg-type]
                fits=count["fits"],
                fits_with=count["fits_with"],
                measure_first=count["measure_first"],
                no=count["no"],
                not_concerned=count["not_concerned"],
            )
            for kind, count in sorted(kinds.items())
        ],
        codes=[wire_parts.CodeCount(code=str(code), parts=count) for code, count in sorted(codes.items())],
        decided=found.decided,
    )


def _line(which: Which, known: Mapping[str, Part], manner: render.Manner) -> wire_parts.PartSuits:
    return wire_parts.PartSuits(
        part=which.part.number,
        kind=which.part.kind,
        suits=which.suits,
        with_=list(which.with_) if which.with_ else UNSET,
        code=_code(which),
        text=which_text(which, known, manner.units) if manner.full else UNSET,
    )


def _code(which: Which) -> str | UnsetType:
    check = which.check if which.ruled_out is None else which.ruled_out.check
    return check.code if check is not None else which.why or UNSET
