"""What could be asked next, and what each question is worth: what it is expected to tell per unit of trouble."""

from collections.abc import Mapping, Sequence, Set
from functools import cached_property
from typing import Final, NamedTuple

import msgspec
import numpy as np

from catalog.domain import Cue, Ease, Kind, Part, TakenWith
from catalog.units import NM_PER_MM
from catalog.vocabulary import DEFAULT_TOLERANCE
from service.identify.answer import NextQuestion, Outcome, Sort
from service.identify.information import Array, Rows, expected_gain
from service.identify.mistakable import Flags, Mistakable, share
from service.identify.model import ReadingModel, cue_table

TROUBLE: Final[dict[Ease, float]] = {"in_car": 1.0, "off_car": 1.2, "with_tool": 1.4}
"""Units of trouble of an answer (common practice, no source)."""
LEAST_GAIN: Final = 0.001
"""Bits below which an answer would change nothing worth telling; such a question is never asked."""
APART: Final = 4.0
"""Bits that it is worth to tell every part of a kind from all others, besides saying which of them it is."""
MISTAKABLE_AT_MOST: Final = 0.125
"""Share of a kind that what was told need not tell from another, for a part to be identified; or what any answer leaves
where that is more."""
LEADING: Final = 0.01
"""Candidates less probable than this are left out of what a question would settle."""
TOLD_PARTS: Final = 6
"""Parts told for one answer, at most."""

BOLTED: Final = "the face that bolts to the engine"
BLOCK: Final = "the block's pump face"
TAPED: Final[dict[tuple[Kind, str], tuple[str, TakenWith]]] = {
    ("water_pump", "belt_plane"): (f"from {BOLTED} to the middle of the belt's track on the pulley", "tape"),
    ("water_pump", "pulley_front"): (f"from {BOLTED} to the front edge of the pulley", "tape"),
    ("water_pump", "nose"): (f"from {BOLTED} to the foremost point of the pump", "tape"),
    ("water_pump", "hub_face"): (f"from {BOLTED} to the front of the bare hub", "tape"),
    ("water_pump", "cover_room"): (f"from {BOLTED} forward to the lowest point over the middle of the cover", "tape"),
    ("water_pump", "fan_face"): (f"from {BOLTED} to the seat of the fan", "tape"),
    ("accessory_drive", "belt_plane"): (f"from {BLOCK} to the middle of the belt", "tape"),
    ("front_cover", "cover_height"): (f"from {BLOCK} forward to the front of the cover, in its middle", "tape"),
    ("pulley", "offset"): ("from its mounting face to the middle of the belt's track", "tape"),
    ("crank_pulley", "offset"): ("from its seat to the middle of the belt's track", "tape"),
    ("spacer", "thickness"): ("from face to face", "caliper"),
    ("adapter_plate", "thickness"): ("from face to face", "caliper"),
    ("gasket", "thickness"): ("from face to face", "caliper"),
    ("fan_adapter", "thickness"): ("from face to face", "tape"),
    ("fastener_set", "length"): ("of a bolt, from under its head to its end", "caliper"),
    ("hose", "length"): ("along its middle, from end to end", "tape"),
    ("fan", "depth"): ("from its mounting face to its front edge", "tape"),
}
"""Measures that a person can take on a part of a kind: from where to where, and with what."""


Told = Mapping[str, int | None]
"""Cues and measures that were answered, each measure with the doubt of what it was taken with, nm."""


class Question(msgspec.Struct, frozen=True):
    """A question with its table: what each hypothesis would answer."""

    sort: Sort
    name: str
    text: str
    answers: tuple[str, ...]
    taken_with: TakenWith | None
    ease: Ease
    table: Array
    row: Rows
    """For each hypothesis its row of the table; those that answer alike share one."""
    weights: Array | None = None

    @property
    def doubt(self) -> int | None:
        """The instrument's, plus and minus, in nm; None where nothing is measured."""
        return None if self.taken_with is None else DEFAULT_TOLERANCE[self.taken_with]

    def gain(self, chances: Array) -> float:
        """Bits that the answer is expected to tell: of hypotheses that answer alike it tells nothing."""
        rows: Array = np.bincount(self.row, weights=chances, minlength=len(self.table)).astype(np.float64)
        return expected_gain(rows, self.table, self.weights)


class Questions:
    """Everything that can be asked of some parts of one kind, or, where several are left, of what kind it is."""

    def __init__(self, candidates: Sequence[Part]) -> None:
        self.candidates = tuple(candidates)
        self.place = {part.number: place for place, part in enumerate(self.candidates)}
        kinds = sorted({part.kind for part in self.candidates})
        self._mistakable = Mistakable(self.candidates)
        self.all = self._of_one_kind(kinds[0]) if len(kinds) == 1 else (self._which_kind(kinds),)

    def _of_one_kind(self, kind: Kind) -> tuple[Question, ...]:
        cues = {cue.name: cue for part in self.candidates for cue in part.cues}
        measures = {name for part in self.candidates for name in part.measures}
        asked = [self._cue(cues[name]) for name in sorted(cues)]
        asked += [self._measure(name, *TAPED[kind, name]) for name in sorted(measures) if (kind, name) in TAPED]
        return tuple(asked)

    def _cue(self, cue: Cue) -> Question:
        table, row = _alike(cue_table(self.candidates, cue))
        return Question("cue", cue.name, cue.question, cue.answers, None, cue.ease, table, row)

    def _measure(self, name: str, way: str, tool: TakenWith) -> Question:
        model = ReadingModel(self.candidates, name, DEFAULT_TOLERANCE[tool])
        x, weights = model.grid()
        text = f"Measure with a {tool} {way}: how far is it?"
        return Question("measure", name, text, (), tool, "with_tool", model.table(x), model.row, weights)

    def _which_kind(self, kinds: list[Kind]) -> Question:
        rows = [[1.0 if part.kind == kind else 0.0 for kind in kinds] for part in self.candidates]
        table = np.array([*rows, [1 / len(kinds)] * len(kinds)])
        return Question("kind", "kind", "What sort of part is it?", tuple(kinds), None, "in_car", *_alike(table))

    def ranked(self, chances: Array, done: Set[str], told: Told) -> list["Worth"]:
        """Questions not yet answered that are worth an answer, the best first.

        `done` are the cues and measures that are not to be asked again, `told` those that were answered. The chance
        that the catalog holds the part weighs what tells it apart.
        """
        before = self._others(told)
        left = share(before) if len(self.all) > 1 else 0.0
        open_ = left > self.most_mistakable
        found = []
        for question in self.all:
            if question.name not in done:
                apart = left - share(before & self._agreeing(question.name, question.doubt)) if open_ else 0.0
                worth = Worth(question, question.gain(chances), apart * float(1 - chances[-1]))
                if worth.bits > LEAST_GAIN:
                    found.append(worth)
        # Rounded, so that the last bits of floating point do not decide between equals.
        return sorted(found, key=lambda worth: (-round(worth.of_trouble, 9), worth.question.name))

    def mistakable(self, told: Told) -> float:
        """The share of the parts that these answers would not tell from another."""
        return share(self._others(told))

    @cached_property
    def most_mistakable(self) -> float:
        """How great that share may be: what is left where everything is told, or what is laid down."""
        everything = {question.name: question.doubt for question in self.all if question.sort != "kind"}
        return max(MISTAKABLE_AT_MOST, self.mistakable(everything))

    def _others(self, told: Told) -> Flags:
        return self._mistakable.agreeing_in(self._agreeing(name, doubt) for name, doubt in told.items())

    def _agreeing(self, name: str, doubt: int | None) -> Flags:
        return self._mistakable.in_answer(name) if doubt is None else self._mistakable.in_reading(name, doubt)

    def told(self, worth: "Worth", chances: Array) -> NextQuestion:
        """The question as it is answered, with what it would settle."""
        question = worth.question
        leading = [
            self.candidates[place] for place in np.argsort(-chances[:-1], kind="stable") if chances[place] >= LEADING
        ]
        outcomes = {"kind": _kinds, "cue": _answers, "measure": _groups}[question.sort](question, leading)
        return NextQuestion(
            sort=question.sort,
            name=question.name,
            question=question.text,
            answers=question.answers,
            taken_with=question.taken_with,
            ease=question.ease,
            gain=worth.gain,
            tells_apart=worth.apart,
            worth=worth.of_trouble,
            outcomes=outcomes,
        )


class Worth(NamedTuple):
    """What an answer to a question is worth."""

    question: Question
    gain: float
    """Bits that it is expected to tell of which part it is."""
    apart: float
    """The share of the kind that it would tell from others besides."""

    @property
    def bits(self) -> float:
        """Both together, in bits."""
        return self.gain + APART * self.apart

    @property
    def of_trouble(self) -> float:
        """The same per unit of trouble."""
        return self.bits / TROUBLE[self.question.ease]


def _alike(table: Array) -> tuple[Array, Rows]:
    """The table's different rows, and for each row of it which of them it is."""
    rows, row = np.unique(table, axis=0, return_inverse=True)
    return rows, row.reshape(-1)


def _outcome(parts: Sequence[Part], *, answer: str | None = None, about: int | None = None) -> Outcome:
    numbers = tuple(part.number for part in parts[:TOLD_PARTS])
    return Outcome(answer, about, numbers, len(parts) - len(numbers))


def _kinds(question: Question, _: Sequence[Part]) -> tuple[Outcome, ...]:
    return tuple(Outcome(kind, None, ()) for kind in question.answers)


def _answers(question: Question, leading: Sequence[Part]) -> tuple[Outcome, ...]:
    own = {part.number: next((c.answer for c in part.cues if c.name == question.name), None) for part in leading}
    found = [(answer, [part for part in leading if own[part.number] == answer]) for answer in question.answers]
    return tuple(_outcome(parts, answer=answer) for answer, parts in found if parts)


def _groups(question: Question, leading: Sequence[Part]) -> tuple[Outcome, ...]:
    """Parts whose readings the instrument could take for each other stand together."""
    stated = sorted(
        (part for part in leading if question.name in part.measures),
        key=lambda part: (part.measures[question.name].nominal, part.number),
    )
    groups: list[list[Part]] = []
    tool = question.taken_with or "tape"
    for part in stated:
        here = part.measures[question.name].nominal
        if groups and here - groups[-1][0].measures[question.name].nominal <= 2 * DEFAULT_TOLERANCE[tool]:
            groups[-1].append(part)
        else:
            groups.append([part])
    return tuple(_outcome(group, about=_about(group, question.name)) for group in groups)


def _about(group: Sequence[Part], name: str) -> int:
    middle = sum(part.measures[name].nominal for part in group) // len(group)
    return round(middle / NM_PER_MM) * NM_PER_MM
