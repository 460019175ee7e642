"""Simulated callers: how often the right part is named, in how many questions, beside the best tree and a fixed order.

    python -m tests.bench.identify                 1,000 callers a pump
    python -m tests.bench.identify --callers 100

A caller has one part in hand. A cue is answered wrongly at the catalog's error rate, then by any other answer alike; a
reading is the part's own dimension within its tolerance, plus the tape's doubt (normal, with the standard uncertainty
of an even spread, JCGM 100:2008, 4.3.7), read to the nearest 1/16 in. What the part does not have cannot be told.
A part that the catalog does not hold answers anything, and reads anything in the catalog's range and a margin.

The best tree is found exhaustively: of all ways to choose each next question by the answers so far, the one that needs
the fewest questions on average until the verdict is `identified`, for callers who make no mistakes. Callers who make
some walk it too; where an answer leads off the tree, the service's own next question follows.
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Mapping, Sequence
from typing import Final

import msgspec
import numpy as np

from catalog.database import open_read_only, reading
from catalog.domain import Kind, Measure, Part, Snapshot
from catalog.migrate import upgrade
from catalog.reader import read_snapshot
from catalog.units import NM_PER_INCH, NM_PER_MM
from catalog.vocabulary import DEFAULT_TOLERANCE
from service.identify.engine import settled
from service.identify.information import Array, posterior
from service.identify.model import MARGIN, prior, reading_likelihood
from service.identify.questions import TROUBLE, Question, Questions
from service.identify.reasons import clash

MOST_QUESTIONS: Final = 12
SIXTEENTH: Final = NM_PER_INCH // 16
Answer = str | int | None
"""An answer of a cue, a reading in nm, or None where it cannot be told."""
Ask = Callable[[Question], Answer]
Policy = Callable[["Told", Array], Question | None]
Told = Mapping[str, Answer]


class Outcome(msgspec.Struct, frozen=True):
    """How one call ended."""

    questions: int
    named: str | None
    """The part that was identified."""
    first: str
    """The likeliest one, identified or not."""


class Desk:
    """The questions that can be asked of the parts of one kind, and what follows from their answers."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = tuple(sorted(parts, key=lambda part: part.number))
        self.questions = Questions(self.parts)
        self.before = prior(self.parts, even=False)
        self._by_name = {question.name: question for question in self.questions.all}
        self._likelihoods: dict[tuple[str, Answer], Array] = {}
        self._mistakable: dict[frozenset[str], float] = {}
        self._best: dict[tuple[tuple[str, Answer], ...], Question | None] = {}
        self.fixed = sorted(self._by_name, key=lambda name: (TROUBLE[self._by_name[name].ease], name))

    def likelihood(self, name: str, answer: Answer) -> Array:
        key = (name, answer)
        if key not in self._likelihoods:
            self._likelihoods[key] = self._likelihood(self._by_name[name], answer)
        return self._likelihoods[key]

    def _likelihood(self, question: Question, answer: Answer) -> Array:
        if answer is None:
            return np.ones(len(self.parts) + 1)
        if isinstance(answer, str):
            found: Array = question.table[question.row, question.answers.index(answer)]
            return found
        return reading_likelihood(self.parts, self._reading(question.name, answer))

    def chances(self, told: Told) -> Array:
        return posterior(self.before, *(self.likelihood(name, answer) for name, answer in told.items()))

    def best(self, told: Told, chances: Array) -> Question | None:
        """The first of the next questions, as the service asks it."""
        key = tuple(sorted(told.items()))
        if key not in self._best:
            ranked = self.questions.ranked(chances, frozenset(told), self._answered(told))
            self._best[key] = ranked[0].question if ranked else None
        return self._best[key]

    def identified(self, told: Told, chances: Array) -> bool:
        """Whether the verdict is `identified`, as the service gives it."""
        if not settled(chances):
            return False
        first = self.parts[int(np.argmax(chances[:-1]))]
        seen = {name: answer for name, answer in told.items() if isinstance(answer, str)}
        readings = [self._reading(name, answer) for name, answer in told.items() if isinstance(answer, int)]
        answered = self._answered(told)
        key = frozenset(answered)
        if key not in self._mistakable:
            self._mistakable[key] = self.questions.mistakable(answered)
        return self._mistakable[key] <= self.questions.most_mistakable and not clash(first, seen, readings)

    def _answered(self, told: Told) -> dict[str, int | None]:
        return {name: self._by_name[name].doubt for name, answer in told.items() if answer is not None}

    def _reading(self, name: str, answer: int) -> Measure:
        doubt = DEFAULT_TOLERANCE[self._by_name[name].taken_with or "tape"]
        return Measure(name, answer, doubt, doubt, "tape", "")

    def in_order(self, told: Told, chances: Array) -> Question | None:
        """The first question not yet asked, in a fixed order: the easiest first."""
        left = [name for name in self.fixed if name not in told]
        return self._by_name[left[0]] if left else None

    def call(self, ask: Ask, policy: Policy) -> Outcome:
        """One call from the first question to its end."""
        told: dict[str, Answer] = {}
        chances = self.before
        while len(told) < MOST_QUESTIONS and not self.identified(told, chances):
            question = policy(told, chances)
            if question is None:
                break
            told[question.name] = ask(question)
            chances = self.chances(told)
        first = self.parts[int(np.argmax(chances[:-1]))].number
        return Outcome(len(told), first if self.identified(told, chances) else None, first)


def caller(part: Part, random: np.random.Generator) -> Ask:
    """Someone with this part in hand, who makes mistakes."""

    def ask(question: Question) -> Answer:
        if question.sort == "measure":
            own = part.measures.get(question.name)
            return None if own is None else read(own, random)
        cue = next((cue for cue in part.cues if cue.name == question.name), None)
        if cue is None:
            return None
        others = [answer for answer in cue.answers if answer != cue.answer]
        return str(random.choice(others)) if random.random() < cue.error_percent / 100 else cue.answer

    return ask


def read(own: Measure, random: np.random.Generator) -> int:
    true = random.uniform(own.low, own.high)
    return to_a_sixteenth(true + random.normal(0, DEFAULT_TOLERANCE["tape"] / np.sqrt(3)))


def to_a_sixteenth(length: float) -> int:
    return round(length / SIXTEENTH) * SIXTEENTH


def careful_caller(part: Part) -> Ask:
    """Someone with this part in hand, who makes none."""

    def ask(question: Question) -> Answer:
        if question.sort == "measure":
            own = part.measures.get(question.name)
            return None if own is None else to_a_sixteenth(own.nominal)
        return next((cue.answer for cue in part.cues if cue.name == question.name), None)

    return ask


def stranger(desk: Desk, random: np.random.Generator) -> Ask:
    """Someone with a part that the catalog does not hold: its answers are anything, each the same when asked again."""

    def ask(question: Question) -> Answer:
        if question.sort == "measure":
            own = [part.measures[question.name].nominal for part in desk.parts if question.name in part.measures]
            margin = MARGIN * NM_PER_MM
            return to_a_sixteenth(random.uniform(min(own) - margin, max(own) + margin))
        return str(random.choice(question.answers))

    return ask


class BestTree:
    """The best tree, every part as likely as any other, and how it is walked with callers who make mistakes."""

    def __init__(self, desk: Desk, *, deepest: int = 6) -> None:
        self.desk = desk
        self.deepest = deepest
        asks = {part.number: careful_caller(part) for part in desk.parts}
        self.answers = {
            question.name: {number: ask(question) for number, ask in asks.items()} for question in desk.questions.all
        }
        self.everyone = frozenset(asks)
        self._done: dict[tuple[frozenset[str], frozenset[str]], bool] = {}
        self._cost: dict[tuple[frozenset[str], frozenset[str]], tuple[float, str | None]] = {}
        self.mean = self.cost(frozenset(), self.everyone)[0] / len(asks)

    def cost(self, asked: frozenset[str], group: frozenset[str]) -> tuple[float, str | None]:
        """Questions still to come, summed over the parts of a group that gave the same answers, and the next one."""
        key = (asked, group)
        if key not in self._cost:
            self._cost[key] = self._find(asked, group)
        return self._cost[key]

    def _find(self, asked: frozenset[str], group: frozenset[str]) -> tuple[float, str | None]:
        if self._settled(asked, group):
            return 0.0, None
        # Whoever is not settled after a question needs one more at least; the least such sums are looked into first.
        bounds = []
        for name in sorted(set(self.answers) - asked) if len(asked) < self.deepest else ():
            parts = list(self._split(name, group).values())
            open_ = [part for part in parts if not self._settled(asked | {name}, part)]
            bounds.append((len(group) + sum(map(len, open_)), name, open_))
        least, following = float("inf"), None
        for bound, name, open_ in sorted(bounds, key=lambda each: each[:2]):
            if bound >= least:
                break
            total = float(len(group)) + sum(self.cost(asked | {name}, part)[0] for part in open_)
            if total < least:
                least, following = total, name
        return least, following

    def _settled(self, asked: frozenset[str], group: frozenset[str]) -> bool:
        key = (asked, group)
        if key not in self._done:
            one = min(group)
            told = {name: self.answers[name][one] for name in sorted(asked)}
            self._done[key] = self.desk.identified(told, self.desk.chances(told))
        return self._done[key]

    def _split(self, name: str, group: frozenset[str]) -> dict[Answer, frozenset[str]]:
        found: dict[Answer, set[str]] = {}
        for number in sorted(group):
            found.setdefault(self.answers[name][number], set()).add(number)
        return {answer: frozenset(numbers) for answer, numbers in found.items()}

    def walk(self, told: Told, chances: Array) -> Question | None:
        """The tree's next question: a reading takes the nearest branch. Off the tree it goes on as the service does."""
        group = self.everyone
        for name, answer in told.items():
            branches = self._split(name, group)
            group = branches.get(_nearest(answer, branches), frozenset())
            if not group:
                return self.desk.best(told, chances)
        following = self.cost(frozenset(told), group)[1]
        if following is None:
            return self.desk.best(told, chances)
        return next(question for question in self.desk.questions.all if question.name == following)


def _nearest(answer: Answer, branches: Mapping[Answer, object]) -> Answer:
    if not isinstance(answer, int):
        return answer
    lengths = [known for known in branches if isinstance(known, int)]
    return min(lengths, key=lambda known: abs(known - answer), default=None)


class Measured(msgspec.Struct, frozen=True):
    """What a run found."""

    kind: str
    parts: int
    callers: int
    identified: float
    right_of_identified: float
    mean_questions: float
    mean_questions_best_tree: float
    mean_questions_fixed: float
    careful_mean_questions: float
    careful_mean_questions_best_tree: float
    stranger_named: float


def run(snapshot: Snapshot, kind: Kind, callers: int, seed: int = 1) -> Measured:
    """Simulate this many callers a part."""
    parts = [part for part in snapshot.parts.values() if part.kind == kind]
    desk = Desk(parts)
    random = np.random.default_rng(seed)
    asked = [(part, desk.call(caller(part, random), desk.best)) for part in desk.parts for _ in range(callers)]
    tree = BestTree(desk)
    walked = [desk.call(caller(part, random), tree.walk) for part in desk.parts for _ in range(callers)]
    fixed = [desk.call(caller(part, random), desk.in_order) for part in desk.parts for _ in range(callers)]
    careful = [desk.call(careful_caller(part), desk.best) for part in desk.parts]
    strangers = [desk.call(stranger(desk, random), desk.best) for _ in range(len(parts) * callers)]
    named = [(part, outcome) for part, outcome in asked if outcome.named is not None]
    return Measured(
        kind=kind,
        parts=len(parts),
        callers=callers,
        identified=len(named) / len(asked),
        right_of_identified=sum(outcome.named == part.number for part, outcome in named) / max(1, len(named)),
        mean_questions=mean([outcome for _, outcome in asked]),
        mean_questions_best_tree=mean(walked),
        mean_questions_fixed=mean(fixed),
        careful_mean_questions=mean(careful),
        careful_mean_questions_best_tree=tree.mean,
        stranger_named=sum(outcome.named is not None for outcome in strangers) / len(strangers),
    )


def left_out(snapshot: Snapshot, kind: Kind, callers: int, seed: int = 2) -> float:
    """Share of parts that are called one of the others once they are taken out of the catalog."""
    parts = [part for part in snapshot.parts.values() if part.kind == kind]
    random = np.random.default_rng(seed)
    outcomes = []
    for part in parts:
        desk = Desk([other for other in parts if other is not part])
        outcomes += [desk.call(caller(part, random), desk.best) for _ in range(callers)]
    return sum(outcome.named is not None for outcome in outcomes) / len(outcomes)


def mean(outcomes: Sequence[Outcome]) -> float:
    return sum(outcome.questions for outcome in outcomes) / len(outcomes)


def demo() -> Snapshot:
    """The newest release of the demo."""
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{folder}/demo.sqlite"
        upgrade(url)
        engine = open_read_only(url)
        with reading(engine) as connection:
            snapshot = read_snapshot(connection)
        engine.dispose()
        return snapshot


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--callers", type=int, default=1000)
    parser.add_argument("--kind", default="water_pump")
    given = parser.parse_args()
    snapshot = demo()
    found = msgspec.structs.asdict(run(snapshot, given.kind, given.callers))
    found["left_out_named"] = left_out(snapshot, given.kind, max(1, given.callers // 10))
    sys.stdout.write(f"{msgspec.json.format(msgspec.json.encode(found), indent=2).decode()}\n")


if __name__ == "__main__":
    main()
