"""What explains a ranking: what would settle what is in doubt, what to ask, and why the first option is first."""

from collections.abc import Mapping

import msgspec

from service.fit.answer import Answer, Check, EitherWay, Explanation, Option
from service.fit.build import Build
from service.fit.either_way import either_way, hangs_on
from service.fit.expected import expected_first
from service.fit.missed import Missed
from service.fit.open_questions import open_questions
from service.fit.options import Assessed
from service.fit.paths import Seat
from service.fit.question import resolve
from service.fit.search import Search
from service.fit.settle import part_of, settling, settling_of, terms_of
from service.fit.told import Lack
from service.fit.unknown import lacks_of
from service.fit.whole import Settlement


def explained(search: Search, answer: Answer, missed: Missed | None) -> Answer:
    """The answer of a search with its explanation, where it lists any option.

    `missed` are the pumps without one.
    """
    if not search.listed:
        return answer
    options = tuple(
        _with_settling(search, option, told) for option, told in zip(search.listed, answer.options, strict=True)
    )
    explanation = Explanation(
        either_way=_either_way(search),
        open_questions=open_questions(search.settlement, search.listed, lambda pump: _seats(search, pump)),
        expected_first=expected_first(search, missed),
    )
    return msgspec.structs.replace(answer, options=options, explanation=explanation)


def _seats(search: Search, pump: str) -> list[Seat]:
    return list(search.seats(search.pumps[pump][1]))


def _with_settling(search: Search, option: Assessed, told: Option) -> Option:
    decides = {lack: place for place, lack in enumerate(lacks_of(told.checks))}
    checks = tuple(_settled(search, option, check, decides) for check in told.checks)
    return msgspec.structs.replace(told, checks=checks)


def _settled(search: Search, option: Assessed, check: Check, decides: Mapping[Lack, int]) -> Check:
    if check.verdict != "measure_first":
        return check
    if check.reason == "not_known":
        lacks = sorted(check.facts["lacks"], key=decides.__getitem__)
        found = settling_of(part_of(search.graph.snapshot.parts, search.question), lacks)
        return msgspec.structs.replace(check, settle=found)
    terms = terms_of(search.graph.snapshot.parts, search.question, option, check)
    return msgspec.structs.replace(check, settle=settling(check, terms))


def _either_way(search: Search) -> EitherWay | None:
    """Only of the first option: each side asks the whole question again."""
    first = search.listed[0]
    check = hangs_on(first)
    if check is None:
        return None
    terms = terms_of(search.graph.snapshot.parts, search.question, first, check)

    def first_of(build: Build) -> Assessed | None:
        question = resolve(search.graph.snapshot, build)
        again = Search(search.graph, question, Settlement(search.graph, question))
        again.run(1, 1)
        return again.listed[0] if again.listed else None

    return either_way(search.question, check, terms, first_of)
