"""The dangers that go with an option, and what is to be bought or seen to besides its list: codes, no sentences."""

from collections.abc import Iterator, Sequence
from typing import Final

from catalog.domain import Part
from catalog.standards.belts import LEAST_DIAMETER_PK
from service.fit.circuit import Piece
from service.fit.gap import FRONT_ADVISED
from service.fit.options import Assessed
from service.fit.question import Question
from service.fit.told import Caution, Note

CAUTIONS: Final = (
    # The most serious first: what scalds, takes fingers or comes apart, then what fails later, then all else.
    "hot_coolant",
    "belt_and_fan",
    "electric_fan",
    "fan_blades",
    "sprung_tensioner",
    "eyes_and_stands",
    "heater_loop",
    "remote_pump",
    "tight_fan",
    "torque",
    "skilled_work",
    "small_pulley",
    "glycol",
    "last_word",
)
"""Every code of a caution, in the order in which they are told."""
NOTES: Final = ("sealant", "hose_lengths", "clamps", "sender", "nobody_states")
"""Every code of a note: what is no danger, but to be bought, looked up or seen to at the bench."""
_BY_THOSE_WHO_DO_IT: Final = ("press", "weld", "machining")


def cautions(question: Question, option: Assessed) -> tuple[Caution, ...]:
    """The dangers that go with the option's parts, the most serious first."""
    return tuple(sorted(_cautions(question, option), key=lambda caution: CAUTIONS.index(caution.code)))


def always() -> Iterator[Caution]:
    """What goes with whatever is done in front of an engine."""
    for code in ("hot_coolant", "belt_and_fan", "eyes_and_stands", "glycol", "last_word"):
        yield Caution(code)


def of_build(question: Question) -> Iterator[Caution]:
    """What the asker's own parts call for."""
    fan, drive = question.slots.get("fan"), question.slots.get("accessory_drive")
    if question.build.fan == "electric":
        yield Caution("electric_fan")
    elif fan is not None and fan.attributes.get("driven_by") == "radiator":
        yield Caution("electric_fan", parts=(fan.number,))
    if drive is not None and question.build.pump_drive != "remote":
        yield Caution("sprung_tensioner", parts=(drive.number,))


def _cautions(question: Question, option: Assessed) -> Iterator[Caution]:
    yield from always()
    yield from of_build(question)
    mounting = option.mounting
    if any(check.code == "bolts" for check in option.checks):
        yield Caution("torque", parts=_numbers(line.part for line in option.lines if line.kind == "fastener_set"))
    if option.work_name in _BY_THOSE_WHO_DO_IT:
        yield Caution("skilled_work")
    yield from _small_pulley(mounting.pulley or mounting.pump)
    if any(piece.spot.goal == "loop" for piece in _pieces(option)):
        yield Caution("heater_loop", parts=(mounting.chosen.number,))
    fans = _numbers(part.number for name, part in _parts(option) if name == "fan" and part.kind == "fan")
    if any(name == "fan" for name, _ in option.trees):
        yield Caution("fan_blades", parts=fans)
    room = [check.value for check in option.checks if check.code == "radiator_gap" and check.zone == "front"]
    if any(value is not None and value < FRONT_ADVISED for value in room):
        yield Caution("tight_fan", parts=fans)
    if mounting.remote is not None:
        yield Caution("remote_pump", parts=(mounting.remote.number,))


def _small_pulley(part: Part) -> Iterator[Caution]:
    diameter = part.measures.get("diameter")
    if diameter is not None and part.attributes.get("profile") == "PK" and diameter.nominal < LEAST_DIAMETER_PK:
        yield Caution("small_pulley", {"pulley": part.name, "diameter": diameter.nominal}, (part.number,))


def of_part(part: Part) -> Iterator[Caution]:
    """What a part calls for by itself, whatever option holds it."""
    if part.kind in ("water_pump", "pulley"):
        yield from _small_pulley(part)
    if part.kind == "fan":
        yield Caution("fan_blades", parts=(part.number,))
    if part.kind == "remote_pump":
        yield Caution("remote_pump", parts=(part.number,))
    if part.kind == "fastener_set":
        yield Caution("torque", parts=(part.number,))
    if part.attributes.get("work") in _BY_THOSE_WHO_DO_IT:
        yield Caution("skilled_work", parts=(part.number,))


def notes_of_part(part: Part) -> Iterator[Note]:
    """What a part wants by itself besides what is listed."""
    if part.kind == "hose":
        yield Note("hose_lengths", parts=(part.number,))
        yield Note("clamps")


def notes(option: Assessed) -> tuple[Note, ...]:
    """What the option's parts want besides what is listed."""
    return tuple(_notes(option))


def _notes(option: Assessed) -> Iterator[Note]:
    numbers = {bolted.check.facts.get("holder"): bolted.holder.number for bolted in option.bolted}
    wet = [check.facts["holder"] for check in option.checks if check.code == "bolts" and check.facts.get("wet")]
    for holder in dict.fromkeys(wet):
        yield Note("sealant", {"holder": holder}, (numbers[holder],) if holder in numbers else ())
    hoses = _numbers(part.number for _, part in _parts(option) if part.kind == "hose")
    if hoses:
        yield Note("hose_lengths", parts=hoses)
    clamps = sum(
        piece.seal == "clamp" and (piece.part is None or piece.part.kind != "cap")  # a cap brings its own
        for piece in _pieces(option)
    )
    if clamps:
        yield Note("clamps", count=clamps)
    plugs = [tree.branches[0].piece.part for name, tree in option.trees if name == "sensor"]
    if any(plug is not None for plug in plugs):
        yield Note("sender", parts=_numbers(plug.number for plug in plugs if plug is not None))


def _pieces(option: Assessed) -> Sequence[Piece]:
    return [piece for _, tree in option.trees for piece in tree.pieces()]


def _parts(option: Assessed) -> Iterator[tuple[str, Part]]:
    """The parts of the option's trees, each with the obligation that it serves."""
    for name, tree in option.trees:
        for piece in tree.pieces():
            if piece.part is not None:
                yield name, piece.part


def _numbers(numbers: Iterator[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(numbers))
