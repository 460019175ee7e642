"""What would fit: every least change of the build that gives an option, with that whole option.

What is on the car is swapped, never left unchecked; a wish is given up; what can be moved is moved no farther than it
must. The changes are looked for by how many fields they change, from the corrections that unchecked fields would make.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from heapq import heappop, heappush
from typing import Any, Final

import msgspec

from catalog.domain import Part, Price
from catalog.units import NM_PER_MM
from service.fit.answer import Option, Remedy
from service.fit.build import Build
from service.fit.change import Change, PartialBuild, changed
from service.fit.instead import MOST_TRIED, ON_THE_CAR, Instead, Other, others
from service.fit.moves import least_move
from service.fit.question import SLOTS, Question, resolve
from service.fit.search import told
from service.fit.tries import Tries

MOST_REMEDIES: Final = 20
"""Remedies told of one build."""
MOST_SWAPS: Final = 3
"""Swaps told for one set of fields."""
MOST_HELD: Final = 4
"""Swaps of one set of fields of which the whole option is made; of the same sort those that come to least are told."""
MOST_ASKED: Final = 200
"""Questions asked to find the remedies of one build."""
MOVED: Final = ("core_distance",)
"""Fields whose length can be changed on the car."""


class Remedies(msgspec.Struct, frozen=True):
    """What was found, and whether there may be more."""

    found: tuple[Remedy, ...]
    truncated: bool


def remedies(tries: Tries, corrections: Sequence[tuple[str, ...]]) -> Remedies:
    """The remedies of a blocked build: swaps, then wishes given up, then moves, within each the dearest last."""
    mending = _Mending(tries)
    found = [*mending.of_tried(corrections), *mending.of_all(corrections)]
    found.sort(key=lambda remedy: _cost(tries, remedy))
    cut_off = mending.cut_off or len(found) > MOST_REMEDIES
    return Remedies(tuple(found[:MOST_REMEDIES]), cut_off)


def ask_again_without(corrections: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    """The fields that say what is on the car and without any one of which some option is found, unchecked then."""
    return tuple(fields[0] for fields in corrections if len(fields) == 1 and fields[0] in (*ON_THE_CAR, *MOVED))


def _cost(tries: Tries, remedy: Remedy) -> tuple[object, ...]:
    """Sorts remedies: by sort, then what must be paid in all, then by how much changes."""
    sort = 2 if remedy.move else 1 if remedy.give_up else 0
    known = remedy.price or Price(_known(remedy.best), tries.graph.snapshot.currency)
    fields = (*remedy.swap, *remedy.give_up, *remedy.move)
    said = [str(each) for each in remedy.swap.values()]
    return (sort, remedy.price is None, known.amount, len(fields), sorted(fields), said)


def _known(option: Option) -> int:
    lines = ((line.price, line.quantity - line.at_hand) for line in option.parts_list)
    return sum(price.amount * buy for price, buy in lines if price is not None)


class _Mending:
    """The search for least changes of one build."""

    def __init__(self, tries: Tries) -> None:
        self._tries, self._question = tries, tries.question
        self.cut_off = False
        """Whether anything was left out that might be a remedy."""
        self._asked: dict[tuple[frozenset[str], str], bool] = {}
        self._values: dict[str, list[Other]] = {}
        self._mended: list[frozenset[str]] = []
        """Sets of fields of which a change is known that mends the build."""

    def of_all(self, corrections: Iterable[tuple[str, ...]]) -> Iterator[Remedy]:
        """Every remedy, by how many fields it changes: where a set mends nothing, each larger one that holds it.

        Without less than a correction no option is found whatever is taken instead of the rest, but for the parts with
        which a combination was tried.
        """
        place = {field: number for number, field in enumerate(self._tries.requirements)}
        waiting: list[tuple[int, list[int], frozenset[str]]] = []
        seen: set[frozenset[str]] = set()
        mended = self._mended

        def push(fields: frozenset[str]) -> None:
            if fields not in seen:
                seen.add(fields)
                heappush(waiting, (len(fields), sorted(place[field] for field in fields), fields))

        for correction in corrections:
            push(frozenset(correction))
        while waiting and len(self._asked) < MOST_ASKED:
            fields = heappop(waiting)[2]
            if any(known <= fields for known in mended):
                continue
            found = self._by_changing(sorted(fields, key=place.__getitem__))
            if found:
                mended.append(fields)
                yield from found
            elif not any(self._is_stuck(field) for field in fields):
                for field in self._tries.requirements:
                    push(fields | {field})
        self.cut_off |= bool(waiting)

    def of_tried(self, corrections: Iterable[tuple[str, ...]]) -> Iterator[Remedy]:
        """Swaps to the very parts with which a combination was tried: without the fields there may be no option."""
        known = [frozenset(correction) for correction in corrections]
        for swap in self._tried():
            fields = frozenset(swap)
            apart = not any(each <= fields for each in (*known, *self._mended))
            if apart and self._has_option(frozenset(), swap):
                self._mended.append(fields)
                remedy = self._remedy(sorted(fields), swap)
                yield from [] if remedy is None else [remedy]

    def _tried(self) -> list[Instead]:
        """Parts of the car with which a combination was tried, in place of those of the build, the fewest first."""
        graph, slots, found = self._tries.graph, self._question.slots, list[Instead]()
        fields = {SLOTS[field]: field for field in self._tries.requirements if field in ON_THE_CAR and field in slots}
        for rule in graph.snapshot.rules:
            parts = [graph.snapshot.parts[number] for number in (rule.part, *rule.others)]
            swap = {fields[part.kind]: part.number for part in parts if part.kind in fields}
            swap = {field: number for field, number in swap.items() if number != slots[field].number}
            if rule.kind == "tested_fit" and swap and swap not in found:
                found.append(swap)
        return sorted(found, key=len)

    def _is_stuck(self, field: str) -> bool:
        """Whether nothing can be taken instead of a field, whatever else is given up."""
        rest = frozenset(self._tries.requirements) - {field}
        return field in ON_THE_CAR and not any(self._has_option(rest, other.says) for other in self._others(field))

    def _others(self, field: str) -> list[Other]:
        if field not in self._values:
            found = others(self._tries.graph, self._question, field)
            self.cut_off |= len(found) > MOST_TRIED
            self._values[field] = found[:MOST_TRIED]
        return self._values[field]

    def _by_changing(self, fields: list[str]) -> list[Remedy]:
        """The swaps of one set of fields that come to least, its wishes given up and its lengths moved."""
        cars = [field for field in fields if field in ON_THE_CAR]
        held: list[tuple[int, Remedy]] = []
        for swap in self._swaps(frozenset(fields), cars, Other(0, {})):
            if len(held) == MOST_HELD:
                self.cut_off = True
                break
            remedy = self._remedy(fields, swap.says)
            held += [] if remedy is None else [(swap.unlike, remedy)]
        held.sort(key=lambda pair: (pair[0], _cost(self._tries, pair[1])))
        self.cut_off |= len(held) > MOST_SWAPS
        return [remedy for _, remedy in held[:MOST_SWAPS]]

    def _swaps(self, fields: frozenset[str], cars: list[str], swap: Other) -> Iterator[Other]:
        """What can be taken instead of these, each part tried with the next ones unchecked before they are tried."""
        if not cars:
            if swap.says or self._has_option(fields, swap.says):
                yield swap
            return
        for other in self._others(cars[0]):
            more = Other(swap.unlike + other.unlike, {**swap.says, **other.says})
            if self._has_option(fields - _fields_of(self._question.build, more.says), more.says):
                yield from self._swaps(fields, cars[1:], more)

    def _has_option(self, without: frozenset[str], swap: Instead) -> bool:
        """Whether the build has an option without these fields and with that instead; counted, and asked once."""
        key = (without, repr(sorted(swap.items())))
        if key not in self._asked:
            if len(self._asked) == MOST_ASKED:
                self.cut_off = True
                return False
            found = self._tries.has_option(self._changed(without, swap))
            self.cut_off |= found is None
            self._asked[key] = bool(found)
        return self._asked[key]

    def _changed(self, without: Iterable[str], said: Instead) -> Question:
        change = Change(give_up=list(without), set=PartialBuild(**said))  # type: ignore[arg-type]
        return resolve(self._tries.graph.snapshot, changed(self._question.build, change))

    def _remedy(self, fields: list[str], swap: Instead) -> Remedy | None:
        wishes = tuple(field for field in fields if field not in (*ON_THE_CAR, *MOVED))
        moved = next((field for field in fields if field in MOVED), None)
        if moved is None:
            best = self._best(self._changed(wishes, swap))
            return None if best is None else self._told(wishes, swap, {}, best)
        now = self._question.core_distance
        found = None if now is None else least_move(lambda at: self._best(self._at(wishes, swap, moved, at)), now)
        return None if found is None else self._told(wishes, swap, {moved: found[0]}, found[1])

    def _at(self, wishes: tuple[str, ...], swap: Instead, moved: str, at: int) -> Question:
        return self._changed(wishes, {**swap, moved: at / NM_PER_MM})

    def _best(self, question: Question) -> Option | None:
        found = self._tries.best(question)
        return None if found is None else told(*found, None, 1)

    def _told(self, wishes: tuple[str, ...], swap: Instead, move: Mapping[str, int], best: Option) -> Remedy:
        slots = self._changed(wishes, swap).slots
        parts = {field: slots[field] for field in swap if field in slots}
        listed = {line.part for line in best.parts_list}
        to_buy: dict[str, Price | None] = {
            field: _price(parts.get(field))
            for field in swap
            if self._must_be_bought(parts.get(field), swap[field], listed)
        }
        unpriced = tuple(field for field, price in to_buy.items() if price is None)
        currency = self._tries.graph.snapshot.currency
        more = sum(price.amount for price in to_buy.values() if price is not None)
        own = [_price(part) for part in parts.values()]
        known = best.buy_price is not None and not unpriced
        return Remedy(
            give_up=wishes,
            swap=swap,
            move=move,
            names={field: part.name for field, part in parts.items()},
            swap_price=Price(sum(p.amount for p in own if p), currency) if own and None not in own else None,
            price=Price(best.buy_price.amount + more, currency) if known and best.buy_price is not None else None,
            unpriced=unpriced,
            best=best,
        )

    def _must_be_bought(self, part: Part | None, said: Any, listed: set[str]) -> bool:
        """Whether what is swapped in costs something that the option's own list does not hold."""
        if part is None:
            return said not in ("mechanical", "none")  # the one is on the list, the other is nothing
        return part.number not in listed and not self._question.have.get(part.number)


def _price(part: Part | None) -> Price | None:
    return None if part is None else part.price


def _fields_of(build: Build, swap: Instead) -> frozenset[str]:
    """The fields of the build that these values take the place of."""
    bare = {"radiator": "radiator_ports"} if isinstance(build.radiator, msgspec.UnsetType) else {}
    return frozenset(bare.get(field, field) for field in swap)
