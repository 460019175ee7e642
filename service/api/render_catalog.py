"""What the catalog holds, from its own structs to what is sent."""

from collections.abc import Iterable

from msgspec import UNSET, UnsetType

from catalog import domain
from catalog.units import millimetres
from service.api import wire_catalog
from service.api.render import Manner, money, present, release_name
from service.fit import wording


def part(
    found: domain.Part, rules: Iterable[domain.Rule], manner: Manner, retired_in: domain.Release | None = None
) -> wire_catalog.Part:
    """A part of the catalog on the wire, with the rules that name it, and since when it is retired."""
    named = [rule for rule in rules if found.number == rule.part or found.number in rule.others]
    replaced_by = next(
        (rule.others[0] for rule in named if rule.kind == "replaced_by" and rule.part == found.number), UNSET
    )
    return wire_catalog.Part(
        number=found.number,
        name=found.name,
        kind=found.kind,
        status=found.status,
        recommended=found.recommended,
        aliases=list(found.aliases),
        attributes=dict(found.attributes),
        bands=[band(each) for each in found.bands],
        measures={name: measure(each, manner) for name, each in found.measures.items()},
        ports=[port(each) for each in found.ports],
        rules=[_rule(rule, manner) for rule in named],
        price=money(found.price),
        replaced_by=replaced_by,
        retired=UNSET if retired_in is None else _retired(found.number, retired_in, replaced_by, manner),
    )


def _retired(
    number: str, release: domain.Release, replaced_by: str | UnsetType, manner: Manner
) -> wire_catalog.Retired:
    instead = None if replaced_by is UNSET else replaced_by
    return wire_catalog.Retired(
        release=release_name(release),
        on=release.published_on,
        text=wording.retired_text(number, release, instead) if manner.full else UNSET,
    )


def band(found: domain.Band) -> wire_catalog.Band:
    """A band on the wire."""
    return wire_catalog.Band(
        from_mm=millimetres(found.from_), to_mm=millimetres(found.to), surface=found.surface, grooves=found.grooves
    )


def measure(found: domain.Measure, manner: Manner) -> wire_catalog.Measure:
    """A measure on the wire."""
    return wire_catalog.Measure(
        nominal_mm=millimetres(found.nominal),
        plus_mm=millimetres(found.plus),
        minus_mm=millimetres(found.minus),
        taken_with=found.taken_with,
        source=found.source if manner.full else UNSET,
    )


def port(found: domain.Port) -> wire_catalog.Port:
    """A port on the wire."""
    return wire_catalog.Port(
        name=found.name,
        role=found.role,
        connection=found.connection,
        end=found.end,
        channel=present(found.channel),
        side=present(found.side),
        direction=present(found.direction),
        wet=found.wet,
        gasket=present(found.gasket),
    )


def _rule(rule: domain.Rule, manner: Manner) -> wire_catalog.Rule:
    return wire_catalog.Rule(
        name=rule.name,
        kind=rule.kind,
        part=rule.part,
        others=list(rule.others),
        settles=list(rule.settles),
        source=rule.source if manner.full else UNSET,
    )


def connection(found: domain.Connection) -> wire_catalog.Connection:
    """A connection of the catalog on the wire."""
    return wire_catalog.Connection(
        name=found.name,
        title=found.title,
        sort=found.sort,
        ends=list(found.ends),
        seal=found.seal,
        pieces_per_layer=found.pieces_per_layer,
        gasket=present(found.gasket),
        bolts=found.bolts,
        size=present(found.size),
    )
