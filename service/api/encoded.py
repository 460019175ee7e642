"""An answer as it is sent: options that other questions have too are encoded once, and only their place anew."""

from functools import lru_cache
from typing import Final, cast

import msgspec
from msgspec import UNSET

from catalog import domain
from service.api import render, wire
from service.fit import answer as fit

_encode = msgspec.json.Encoder(order="deterministic").encode
_KEPT: Final = 4_096
"""Reasons to stand above another that are kept encoded, some 300 bytes each."""
# An option's place is told by its first and its last field; what lies between is the same wherever it stands.
_PLACE: Final = ("rank", "above_next")


def answer(found: fit.Answer, release: domain.Release, manner: render.Manner) -> wire.Answer:
    """The engine's answer on the wire, to be encoded and not looked into."""
    return render.answer(found, release, manner, [_option(option, manner) for option in found.options])


def _option(option: fit.Option, manner: render.Manner) -> wire.Option:
    shared = None if option.derived is None else option.derived.of
    if shared is None or option.checks is not shared.checks or option.parts_list is not shared.parts_list:
        return render.option(option, manner)
    assert option.derived is not None
    same = option.derived.get(("encoded", manner), lambda shared: _same(shared, manner))
    above = b"" if option.above_next is None else _above_next(option.above_next, manner)
    # The encoder takes these bytes as they are.
    return cast(wire.Option, msgspec.Raw(b"%s%d%s%s}" % (_START, option.rank, same, above)))


def _same(option: fit.Option, manner: render.Manner) -> bytes:
    """What lies between rank and the reason to stand above another."""
    found = msgspec.structs.replace(render.rendered(option, manner), rank=0, above_next=UNSET)
    return _encode(found)[len(_START) + 1 : -1]


@lru_cache(maxsize=_KEPT)
def _above_next(above: fit.AboveNext, manner: render.Manner) -> bytes:
    return b',"above_next":' + _encode(render.above_next(above, manner))


_START: Final = b'{"rank":'
assert (wire.Option.__struct_fields__[0], wire.Option.__struct_fields__[-1]) == _PLACE
