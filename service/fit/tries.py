"""Which of a build's requirements can be met together: every subset searched at most once, with what it shares."""

from itertools import chain, combinations
from typing import Final

from service.fit.graph import ConstraintGraph
from service.fit.options import Assessed
from service.fit.question import Question
from service.fit.requirements import given, keeping_of
from service.fit.search import Search
from service.fit.ways import asks_of_circuits
from service.fit.whole import Settlement

MOST_TRIES: Final = 400
"""Searches made to explain one blocked build; what would take more is not decided."""


class Tries:
    """Searches of the questions that come of one build, which share face paths and circuits where they ask the same."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self.graph, self.question = graph, question
        self.requirements = given(question.build)
        self.made = 0
        self._fragile = _fragile(graph, question)
        self._settlements: dict[tuple[object, ...], Settlement] = {}
        self._met: dict[frozenset[str], bool | None] = {}

    def search(self, question: Question) -> Search:
        """A new search of this question."""
        key = asks_of_circuits(question)
        settlement = Settlement(self.graph, question, self._settlements.get(key))
        self._settlements.setdefault(key, settlement)
        return Search(self.graph, question, settlement)

    def keeping(self, fields: frozenset[str]) -> Search:
        """A new search of the build with only these requirements."""
        return self.search(keeping_of(self.question, fields))

    def meets(self, fields: frozenset[str]) -> bool | None:
        """Whether some option meets these requirements; None where that is not decided.

        An option that needs one more requirement of the build, such as a drive that it was tried with, meets
        them as well.
        """
        more = [field for field in self._fragile if field not in fields]
        answers = []
        for extra in chain.from_iterable(combinations(more, size) for size in range(len(more) + 1)):
            answers.append(self._has_option(fields | set(extra)))
            if answers[-1]:
                return True
        return None if None in answers else False

    def _has_option(self, fields: frozenset[str]) -> bool | None:
        if fields not in self._met:
            self._met[fields] = self.has_option(keeping_of(self.question, fields))
        return self._met[fields]

    def has_option(self, question: Question) -> bool | None:
        """Whether this very question has an option; None where that is not decided."""
        if self.made == MOST_TRIES:
            return None
        self.made += 1
        return self.search(question).has_option()

    def best(self, question: Question) -> tuple[Settlement, Assessed] | None:
        """The first option of this question, with what it was settled by."""
        search = self.search(question)
        search.rank(1, 1)
        return (search.settlement, search.listed[0]) if search.listed else None


def _fragile(graph: ConstraintGraph, question: Question) -> tuple[str, ...]:
    """Requirements that an option may lean on, so that it is lost with them.

    A pump elsewhere, where the field left out means the belt's; a part with which a combination was tried; a
    pump or pulley that only the build offers.
    """
    rules = graph.snapshot.rules
    tested = {number for rule in rules if rule.kind == "tested_fit" for number in (rule.part, *rule.others)}
    fragile = {field for field, part in question.slots.items() if part.number in tested}
    fragile.add("pump_drive")
    for field in ("pump", "pulley"):
        part = question.slots.get(field)
        if part is not None and (part.status == "retired" or part.number in question.described):
            fragile.add(field)
    return tuple(field for field in given(question.build) if field in fragile)
