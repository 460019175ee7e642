"""The fit engine: every pump on every face path, assessed, ranked, and what is ruled out with its nearest miss."""

from collections.abc import Collection, Iterator
from heapq import heappop, heappush
from typing import Final

from msgspec import UNSET

from catalog.domain import Part, Port
from service.fit.alternatives import with_alternatives
from service.fit.answer import Answer, Option, Replaced, RuledOut
from service.fit.assess import assess
from service.fit.axis import relative_margin
from service.fit.build import Build
from service.fit.graph import ConstraintGraph
from service.fit.mounting import Mounting, mountings, plates_of, unreached
from service.fit.options import Assessed, cautions, offers, open_ports, stack
from service.fit.parts_list import stack_bill
from service.fit.paths import FacePath, Seat, face_paths, seat
from service.fit.question import Question, resolve
from service.fit.ranking import Key, above_next, bound, standing
from service.fit.rules import tested_plates
from service.fit.whole import Settlement

MOST_SEATS: Final = 1_000_000
"""Pumps on face paths looked at for one question; a question that needs more is not decided."""
MOST_RULED_OUT: Final = 20
_MAY_ASK: Final = ("accessory_drive", "front_cover", "crank_pulley", "radiator", "heater", "fan")
"""Fields that ask for checks; the first sentence says which were left out."""


def fit(graph: ConstraintGraph, build: Build) -> Answer:
    """Ranked options for a build, each with its checks, and the pumps that are ruled out.

    Every feasible pump and face path of at most three plates is considered.

    Raises
    ------
    BuildError
        When the build names what the release does not hold, or holds otherwise.
    """
    question = resolve(graph.snapshot, build)
    search = _Search(graph, question)
    search.run(build.limit, build.paths_per_pump)
    listed = search.listed
    ruled_out = search.ruled_out() if search.decided else []
    return Answer(
        build=question.build,
        verdict="blocked" if not listed else "fits" if listed[0].verdict == "ok" else "measure_first",
        not_checked=_left_out(question, search.settlement.asked.unknown),
        replaced=tuple(Replaced(*replaced) for replaced in question.replaced),
        options=tuple(
            _option(search.settlement, option, following, rank)
            for rank, (option, following) in enumerate(zip(listed, [*listed[1:], None][: len(listed)], strict=True), 1)
        ),
        pumps_that_fit=len(search.fitting),
        fitting=tuple(sorted(search.fitting)),
        ruled_out=tuple(ruled_out[:MOST_RULED_OUT]),
        ruled_out_total=len(ruled_out),
        decided=search.decided and search.settlement.decided,
    )


class _Search:
    """All face paths of a question, and the options found on them."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self.graph, self.question = graph, question
        self.settlement = Settlement(graph, question)
        self.listed: list[Assessed] = []
        """Options in rank order: of each pump and set of plates the best order and pulley, so many a pump at most."""
        self.fitting: set[str] = set()
        """Pumps with an option, listed or not."""
        self.decided = True
        self.paths: dict[tuple[str, str], list[FacePath]] = {}
        for path in face_paths(graph, question):
            self.paths.setdefault((path.open.connection, path.open.end), []).append(path)
        self.pumps = self._pumps()

    def _pumps(self) -> dict[str, tuple[Part, list[Port]]]:
        """What some path reaches and may sit there, with the mounts by which it is reached, in order of part number.

        Pumps; or, for a remote pump, the outlet plates that lead to one.
        """
        remote = self.question.build.pump_drive == "remote"
        kind = "outlet_plate" if remote else "water_pump"
        named = None if remote else self.question.slots.get("pump")
        found: dict[str, tuple[Part, list[Port]]] = {}
        for paths in self.paths.values():
            for part, port in self.graph.meeting(paths[0].open):
                pump = self.question.part(part)
                if part.kind != kind or port.role != "mount" or (named and named.number != part.number):
                    continue
                if self.question.allows(part) or named:
                    found.setdefault(part.number, (pump, []))[1].append(port)
        if named is not None and named.number not in found:
            found[named.number] = (named, [port for port in named.ports if port.role == "mount"])
        return dict(sorted(found.items()))

    def seats(self, mounts: list[Port]) -> Iterator[Seat]:
        """Every path that one of these mounts can meet, with a pump on its end."""
        for mount in mounts:
            inner = self.graph.connection(mount.connection).other_end(mount.end)
            for path in self.paths.get((mount.connection, inner), ()):
                found = seat(self.graph, self.question, path, mount)
                if found is not None:
                    yield found

    def run(self, limit: int, per_pump: int) -> None:
        """Take seats in the order in which they could stand, until enough options stand for certain.

        Then look, for each pump without an option, whether it has any.
        """
        waiting = self._bounds()
        if waiting is None:
            self.decided = False
            return
        certain: list[tuple[Key, int, Assessed]] = []
        place = 0
        while len(self.listed) < limit and (place < len(waiting) or certain):
            if certain and (place == len(waiting) or certain[0][0] <= waiting[place][0]):
                self._list(heappop(certain)[2], per_pump)
                continue
            _, _, mounting, found = waiting[place]
            place += 1
            if self._full(mounting, found, per_pump):
                continue
            option = assess(self.settlement, mounting, found)
            if option.verdict != "fails":
                self.fitting.add(mounting.chosen.number)
                heappush(certain, (standing(option).key(self.question.rank_keys), place, option))
        for _, _, mounting, found in waiting[place:]:
            if mounting.chosen.number not in self.fitting:
                option = assess(self.settlement, mounting, found)
                if option.verdict != "fails":
                    self.fitting.add(mounting.chosen.number)

    def _bounds(self) -> list[tuple[Key, int, Mounting, Seat]] | None:
        """Every seat that the axis does not rule out by where it could stand at best; None beyond the step limit."""
        found: list[tuple[Key, int, Mounting, Seat]] = []
        looked_at = 0
        for pump, mounts in self.pumps.values():
            tested = tested_plates(self.graph, pump)
            choices = list(mountings(self.settlement, pump))
            for place in self.seats(mounts):
                looked_at += len(choices)
                if looked_at > MOST_SEATS:
                    return None
                for mounting in choices:
                    settled = bool(tested) and plates_of(mounting, place) in tested
                    if not settled and (mounting.hopeless or not mounting.possible(place.flange)):
                        continue
                    _, bill = stack_bill(self.question, mounting, place)
                    if not self.settlement.too_dear(mounting.pump, mounting.remote, bill):
                        stands = bound(self.settlement, mounting, place, tested=settled)
                        found.append((stands.key(self.question.rank_keys), len(found), mounting, place))
        return sorted(found, key=lambda entry: entry[:2])

    def _full(self, mounting: Mounting, place: Seat, per_pump: int) -> bool:
        """Whether this pump is listed often enough, or with these very plates."""
        listed = [o for o in self.listed if o.mounting.chosen.number == mounting.chosen.number]
        known = any((o.mounting.pump.number, o.seat.key) == (mounting.pump.number, place.key) for o in listed)
        return len(listed) >= per_pump or known

    def _list(self, option: Assessed, per_pump: int) -> None:
        if not self._full(option.mounting, option.seat, per_pump):
            self.listed.append(option)

    def ruled_out(self) -> list[RuledOut]:
        """Pumps without an option, the nearest miss first; of several ways to each, its nearest."""
        missed: dict[str, tuple[tuple[object, ...], RuledOut]] = {}
        for pump, mounts in self.pumps.values():
            for order, miss in self._misses(pump, mounts):
                if miss.pump not in self.fitting and (miss.pump not in missed or order < missed[miss.pump][0]):
                    missed[miss.pump] = (order, miss)
        return [miss for _, miss in sorted(missed.values(), key=lambda pair: pair[0])]

    def _misses(self, pump: Part, mounts: list[Port]) -> Iterator[tuple[tuple[object, ...], RuledOut]]:
        by_number: dict[str, list[Mounting]] = {}
        for mounting in mountings(self.settlement, pump):
            by_number.setdefault(mounting.chosen.number, []).append(mounting)
        for number, choices in by_number.items():
            if number not in self.fitting:
                yield self._miss(choices, mounts)

    def _miss(self, choices: list[Mounting], mounts: list[Port]) -> tuple[tuple[object, ...], RuledOut]:
        found = min(
            ((mounting, place) for place in self.seats(mounts) for mounting in choices),
            key=lambda pair: (pair[0].shortfall(pair[1].flange), len(pair[1].plates), pair[1].order),
            default=None,
        )
        pump = choices[0].chosen
        if found is None:
            check = unreached(self.question, pump)
            return (True, True, 0, 0, pump.number), RuledOut(pump.number, pump.name, (), check, None, None)
        mounting, place = found
        option = assess(self.settlement, mounting, place)
        failing = [check for check in option.checks if check.verdict == "fails"]
        first = failing[0]
        short = -first.margin if first.margin is not None and first.margin < 0 else None
        structural = any(check.code not in ("price", "work") for check in failing)
        order = (
            structural,  # what only the asker's own limits stop is nearest of all
            structural and any(check.margin is None for check in failing),
            len(failing),
            short or 0,
            pump.number,
        )
        window = mounting.window(place.flange)
        return order, RuledOut(pump.number, pump.name, option.plates, first, short, window)


def _left_out(question: Question, unknown: Collection[str]) -> tuple[str, ...]:
    """The fields that would have asked for checks and were left out, or say too little to check them."""
    build = question.build
    given = {field for field in _MAY_ASK if getattr(build, field) is not UNSET}
    if build.radiator_ports is not UNSET:
        given.add("radiator")
    return tuple(field for field in _MAY_ASK if field not in given or field in unknown)


def _option(settlement: Settlement, option: Assessed, following: Assessed | None, rank: int) -> Option:
    margins = [
        check.margin for check in option.checks if check.margin is not None and relative_margin(check) is not None
    ]
    return Option(
        rank=rank,
        pump=option.mounting.chosen.number,
        plates=option.plates,
        work=option.work_name,  # type: ignore[arg-type]
        verdict=option.verdict,  # type: ignore[arg-type]
        recommended=option.mounting.chosen.recommended,
        buy_price=option.price,
        least_margin=min(margins) if margins else None,
        thickness_window=option.mounting.window(option.seat.flange),
        stack=stack(option),
        parts_list=with_alternatives(settlement, option),
        checks=option.checks,
        open_ports=open_ports(option),
        cautions=cautions(option),
        offers=offers(settlement.graph, settlement.question, option),
        above_next=above_next(option, following, settlement.question.rank_keys),
    )
