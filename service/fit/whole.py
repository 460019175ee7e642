"""The best whole list: one tree for every obligation of an option, settled jointly.

Each obligation alone gives its trees in order of cost. Their cheapest combination is the best list unless
something joins them: a piece at hand that two want, a kit that serves two, a rule, a limit on the whole. So
combinations are taken in the order of what they cost at least, and the first one that costs no more than the
next could is the best. Work and verdict are maxima, not sums: they are capped, and each cap is settled alone.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property, partial
from typing import Final, NamedTuple, cast

import msgspec
from msgspec import UNSET

from catalog.domain import Part
from catalog.vocabulary import WORK
from service.fit.answer import OpenPort
from service.fit.bill import NO_BILL, Bill
from service.fit.bounds import Bounds
from service.fit.capped import Cap, Circuit
from service.fit.circuit import Asked, Goal, Piece, Slack, Spot, asked_of, pieces_parts
from service.fit.combined import Combinations, TreesOf
from service.fit.gap import Extent, extents
from service.fit.graph import ConstraintGraph
from service.fit.line_checks import ToldOfLines, told_of_lines
from service.fit.obligations import Obligation, Obliged, asks_for_fan, obliged, open_ports_of, wants_outlet
from service.fit.question import Question
from service.fit.reachable import Through, cheapest_through
from service.fit.seats import asks_of_front
from service.fit.tally import Take
from service.fit.trees import Cost, LiveWays, Settler, Tree, Way
from service.fit.ways import Ways, asks_of_circuits

MOST_COMBINATIONS: Final = 2_000
"""Combinations of trees looked at for one option and cap; where none of them settles it, it is not decided."""
_MOST_FANS: Final = 2_000
"""Fans, each with its adapters, beyond which their room is only looked at seat by seat."""
Trees = tuple[tuple[str, Tree[Piece]], ...]
"""The name of each obligation with the tree that settles it."""


Suits = Callable[[str, Tree[Piece]], bool]
"""Whether a tree for the obligation of this name may be in a list, whatever else is."""


class Judged(NamedTuple):
    """What a judge says of a combination: whether it may be, and what it costs by the ranking's keys that add up."""

    holds: bool
    cost: Cost
    blamed: str = ""
    """The obligation whose tree alone is the reason that it may not be, where one is."""


class _Taken(NamedTuple):
    """What a tree takes, and the hardest step of it."""

    tree: Tree[Piece]
    takes: tuple[Take, ...]
    work: int


class Settlement:
    """The obligations of one question, with the circuits that settle them under every cap."""

    def __init__(
        self, graph: ConstraintGraph, question: Question, like: "Settlement | None" = None, wanted: str = ""
    ) -> None:
        """`like` is the settlement of a question that asks the same of its circuits, whose trees serve here too.

        `wanted` is a part to be told from others in every tree, where no `like` is given.
        """
        self.graph, self.question = graph, question
        self.decided = True
        self.anything = Cap(len(WORK) - 1, measure_first=True, kits=graph.kits)
        """The cap that leaves everything, and counts no kit: what does not settle under it settles under none."""
        self._ways: Ways = Ways(graph, question, asked_of(graph, question), wanted) if like is None else like._ways
        self._bounds: Bounds = Bounds(self._ways) if like is None else like._bounds
        self._live: LiveWays[Spot, Piece] = (
            LiveWays(self._ways.of, self._bounds.least_parts, self._bounds.least_cost) if like is None else like._live
        )
        self._circuits: dict[Cap, Circuit] = {} if like is None else like._circuits
        self._least: dict[tuple[str, str], Bill] = {} if like is None else like._least
        self.asked: Asked = self._ways.asked
        self.bolts = self._ways.bolts
        self._extents: dict[Spot, tuple[Extent, ...]] = {} if like is None else like._extents
        self._fans: dict[Spot, list[list[Part]]] = {} if like is None else like._fans
        self._takes: dict[int, _Taken] = {} if like is None else like._takes
        self._obliged: dict[tuple[str, str], Obliged] = {}
        self._of_lines: dict[tuple[int, str], tuple[Tree[Piece], ToldOfLines]] = {}
        self._by_price: Settlement | None = None
        self._lenient: Settlement | None = None
        self._through: dict[tuple[Cap, Spot], dict[str, Through]] = {}
        self._every: dict[Spot, list[Way[Spot, Piece]]] = {}
        self._wanting: tuple[str, Settlement] | None = None

    def afresh(self) -> "Settlement":
        """With the trees that were found, and nothing else that was."""
        return Settlement(self.graph, self.question, self)

    @property
    def weight(self) -> int:
        """Roughly how many bytes the trees take; measured on made catalogs, within a fifth of it."""
        looked_at = sum(circuit.settler.steps for circuit in self._circuits.values())
        return 1_000 * self._live.count + 350 * looked_at

    def obliged(self, part: Part, remote: Part | None) -> Obliged:
        """What a part on the block must settle."""
        key = (part.number, "" if remote is None else remote.number)
        if key not in self._obliged:
            self._obliged[key] = obliged(self._ways, self.question, part, remote)
        return self._obliged[key]

    def open_ports(self, part: Part, remote: Part | None) -> tuple[OpenPort, ...]:
        """What a part on the block leaves to the asker."""
        return open_ports_of(self.graph, self.asked, self.question, part, remote)

    def first(self, root: Spot) -> Tree[Piece] | None:
        """The cheapest tree of an obligation, whatever the others are."""
        return self.nth(root, 0)

    def surest(self, root: Spot) -> Tree[Piece] | None:
        """The cheapest tree with nothing to measure first; the cheapest of all where there is none."""
        return self._circuit(self.anything._replace(measure_first=False)).settler.nth(root, 0) or self.first(root)

    def surely(self, part: Part, remote: Part | None) -> bool:
        """Whether each obligation of a part can be settled, whatever the others are, with nothing to measure first."""
        settler = self.sure_trees
        return all(settler.nth(each.root, 0) is not None for each in self.obliged(part, remote).obligations)

    @property
    def sure_trees(self) -> Settler[Spot, Piece]:
        """Every tree with nothing to measure first, whatever the others are."""
        return self._circuit(self.anything._replace(measure_first=False)).settler

    def relaxed(self, root: Spot, slack: tuple[Slack, ...]) -> Tree[Piece] | None:
        """The cheapest tree of an obligation with so much left out of account, whatever the others are."""
        return self.nth(self._ways.relaxed(root, slack), 0)

    def nth(self, root: Spot, place: int) -> Tree[Piece] | None:
        """The tree at this place in the order of cost, from 0, whatever the others are; None beyond the last."""
        return self.trees.nth(root, place)

    @property
    def trees(self) -> Settler[Spot, Piece]:
        """Every tree, whatever the others are."""
        return self._circuit(self.anything).settler

    def through(self, cap: Cap, root: Spot) -> dict[str, Through]:
        """By part number the cheapest tree of an obligation through it within a cap, whatever the others are."""
        if (cap, root) not in self._through:
            self._through[cap, root] = cheapest_through(self._circuit(cap), root, self._every_way)
        return self._through[cap, root]

    def _every_way(self, spot: Spot) -> list[Way[Spot, Piece]]:
        if spot not in self._every:
            self._every[spot] = list(self._ways.every(spot))
        return self._every[spot]

    def wanting(self, number: str) -> "Settlement":
        """The same question with this part told from all others in its trees."""
        if self._wanting is None or self._wanting[0] != number:
            self._wanting = number, Settlement(self.graph, self.question, wanted=number)
        return self._wanting[1]

    def suiting(self, cap: Cap, root: Spot, suits: Callable[[Tree[Piece]], bool]) -> Tree[Piece] | None:
        """The first tree of an obligation within a cap that suits."""
        return TreesOf(partial(self._circuit(cap).settler.nth, root), suits).nth(0)

    def fan_extents(self, part: Part) -> tuple[Extent, ...]:
        """How far the fans reach that this part can carry; nothing where there are too many to tell."""
        spot = self._fan_spot(part)
        if spot is None:
            return ()
        if spot not in self._extents:
            found = self.fans(part)
            self._extents[spot] = extents(found) if len(found) < _MOST_FANS else ()
        return self._extents[spot]

    def fans(self, part: Part) -> list[list[Part]]:
        """The fans that this part can carry, each after its adapters; no more than may be looked at."""
        spot = self._fan_spot(part)
        if spot is None:
            return []
        if spot not in self._fans:
            found: list[list[Part]] = []
            while len(found) < _MOST_FANS and (tree := self.nth(spot, len(found))) is not None:
                found.append([piece.part for piece in tree.pieces() if piece.part is not None])
            self._fans[spot] = found
        return self._fans[spot]

    def _fan_spot(self, part: Part) -> Spot | None:
        port = next((port for port in part.ports if port.role == "fan"), None)
        return None if port is None else self._ways.spot(part, port, "fan")

    def least(self, part: Part, remote: Part | None) -> Bill:
        """What the obligations of a part add to a list at least, each looked at alone and with whatever work.

        No list that is better on an earlier key is worse on a later one, so the whole of it may be compared.
        """
        if self.asks_nothing:
            return NO_BILL
        key = (part.number, "" if remote is None else remote.number)
        if key not in self._least:
            self._least[key] = self._find_least(part, remote)
        return self._least[key]

    def _find_least(self, part: Part, remote: Part | None) -> Bill:
        trees = (self.first(obligation.root) for obligation in self.obliged(part, remote).obligations)
        bills = [Bill.of(tree.cost, self.question.rank_keys) for tree in trees if tree is not None]
        return Bill(*map(sum, zip((0, 0, 0), *bills, strict=True)))

    def beyond(self, bound: Cost) -> bool:
        """Whether all that comes later is dearer than the build allows, where the price comes first in the order."""
        limit, keys = self.question.price_at_most, self.question.rank_keys
        if limit is None or "parts" in keys[: keys.index("price")]:
            return False
        bill = Bill.of(bound, keys)
        return bill.unpriced > 0 or bill.known > limit

    def lenient(self) -> "Settlement | None":
        """The same question without its limits on price and work; None where it has none."""
        if not self.limits:
            return None
        if self._lenient is None:
            must = self.question.build.must
            free = msgspec.structs.replace(must, work_at_most=UNSET, price_at_most=UNSET)
            build = msgspec.structs.replace(self.question.build, must=free)
            free_question = msgspec.structs.replace(self.question, build=build, price_at_most=None)
            alike = asks_of_circuits(free_question) == asks_of_circuits(self.question)
            self._lenient = Settlement(self.graph, free_question, self if alike else None)
        return self._lenient

    def least_price(self, part: Part, remote: Part | None) -> Bill:
        """What the obligations of a part add at least to what must be paid, whatever else they cost."""
        keys = self.question.rank_keys
        if "parts" not in keys[: keys.index("price")]:
            return self.least(part, remote)
        if self._by_price is None:
            by_price = msgspec.structs.replace(self.question, rank_keys=tuple(dict.fromkeys(("price", *keys))))
            self._by_price = Settlement(self.graph, by_price)
        return self._by_price.least(part, remote)

    def too_dear(self, part: Part, remote: Part | None, bill: Bill) -> bool:
        """Whether a list with this bill goes beyond the price that the build allows with even the cheapest trees."""
        limit = self.question.price_at_most
        if limit is None:
            return False
        least = self.least_price(part, remote)
        return bill.unpriced + least.unpriced > 0 or bill.known + least.known > limit

    @cached_property
    def asks_nothing(self) -> bool:
        """Whether the build asks nothing of coolant, heater and fan, so that no pump owes anything."""
        asked = self.asked.coolant or self.asked.heater is not None or asks_for_fan(self.question)
        return not asked and not wants_outlet(self.question)

    @cached_property
    def limits(self) -> bool:
        """Whether the build limits the work or the price of the whole."""
        return self.question.price_at_most is not None or self.question.build.must.work_at_most is not UNSET

    @cached_property
    def shared_by(self) -> bytes | None:
        """What other questions share its options before the limits of each; None where not the front alone decides."""
        build = self.question.build
        circuits = (build.radiator, build.radiator_ports, build.heater)
        if not self.asks_nothing or self.question.have or any(field is not UNSET for field in circuits):
            return None
        return asks_of_front(self.graph, self.question)

    def takes(self, trees: Trees) -> Iterator[Take]:
        """What these trees take, each tree looked at once."""
        for _, tree in trees:
            yield from self._taken(tree).takes

    def work_of(self, trees: Trees) -> int:
        """The hardest step of these trees, that of the ports that they leave open included."""
        return max((self._taken(tree).work for _, tree in trees), default=0)

    def _taken(self, tree: Tree[Piece]) -> "_Taken":
        known = self._takes.get(id(tree))
        if known is None or known.tree is not tree:
            work = max((piece.work for piece in tree.pieces()), default=0)
            known = self._takes[id(tree)] = _Taken(tree, tuple(_taken(tree)), work)
        return known

    def told_of_lines(self, tree: Tree[Piece], start: Part) -> ToldOfLines:
        """What is told of the lines of a tree that starts at this part, each tree looked at once."""
        known = self._of_lines.get((id(tree), start.number))
        if known is None or known[0] is not tree:
            told = told_of_lines(self.graph, self.question, self.asked, tree, start)
            known = self._of_lines[id(tree), start.number] = tree, told
        return known[1]

    def fault_of(self, obligation: Obligation) -> str:
        """The size or connection of the asker's own port that nothing in the catalog knows; empty where it is known."""
        goals: dict[str, Goal] = {"outlet": "upper", "inlet": "lower"}
        return self.asked.faults.get(goals.get(obligation.name) or cast(Goal, obligation.name), "")

    def _circuit(self, cap: Cap) -> Circuit:
        if cap not in self._circuits:
            self._circuits[cap] = Circuit(self._ways, self._bounds, self._live, cap)
        return self._circuits[cap]

    def caps(self, work: int, kits: frozenset[str]) -> Iterator[Cap]:
        """Caps from the lightest, from the work and the kits that the option has without its circuits."""
        for measuring in (False, True):
            for level in range(work, len(WORK)):
                yield Cap(level, measuring, kits)

    def best(
        self,
        owed: tuple[Part, Part | None],
        cap: Cap,
        least: Cost,
        suits: Suits,
        judge: Callable[[Trees], Judged],
        holding: tuple[int, str] | None = None,
    ) -> Trees | None:
        """The best combination within a cap, of trees that each suit by themselves; None where there is none.

        `owed` is what sits on the block, and the remote pump; `least` is what the option costs without its trees;
        `holding` is the place of an obligation whose tree must hold the part of this number.
        """
        obligations, settler = self.obliged(*owed).obligations, self._circuit(cap).settler
        unsettled = any(settler.nth(each.root, 0) is None for each in obligations)
        if unsettled or self.too_dear(*owed, Bill.of(least, self.question.rank_keys)):
            return None
        names = [obligation.name for obligation in obligations]
        of = holding or (-1, "")
        lists = [
            TreesOf(partial(settler.nth, each.root), partial(suits, each.name), of[1] if place == of[0] else "")
            for place, each in enumerate(obligations)
        ]
        looked_at = 0
        while True:
            best: tuple[tuple[Cost, tuple[str, ...]], Trees] | None = None
            blamed = ""
            for bound, trees in Combinations(lists, least):
                if self.beyond(bound[0]):
                    break
                if looked_at == MOST_COMBINATIONS:
                    self.decided = False
                    break
                looked_at += 1
                named = tuple(zip(names, trees, strict=True))
                judged = judge(named)
                key = (judged.cost, bound[1])
                if judged.holds and (best is None or key < best[0]):
                    best = (key, named)
                if best is not None and best[0] <= bound:
                    break  # what comes later costs no less
                if judged.blamed:
                    blamed = judged.blamed
                    place = names.index(blamed)
                    lists[place].leave_out(trees[place])
                    break
            if not blamed:
                return None if best is None else best[1]


def _taken(tree: Tree[Piece]) -> Iterator[Take]:
    for piece in tree.pieces():
        for part, quantity in pieces_parts(piece):
            yield Take(part, quantity, of_block=piece.bolts is None or part is not piece.bolts[0])


@contextmanager
def settlement_of(graph: ConstraintGraph, question: Question) -> Iterator[Settlement]:
    """The settlement of a question, with the trees that the last question found which asks the same of its circuits.

    Where it asks anything of them it is nobody else's until the block ends.
    """
    settlement = Settlement(graph, question)
    if question.described or settlement.asks_nothing:
        yield settlement
        return
    build = question.build
    facts = msgspec.json.encode((build.engine, build.measured, build.have))
    key = (facts, asks_of_circuits(question))
    with graph.circuits.lend(key) as like:
        settlement = settlement if like is None else Settlement(graph, question, like)
        yield settlement
        graph.circuits.give(key, settlement.afresh())
