"""The fit engine: every pump on every face path, assessed, ranked, and what is ruled out with its nearest miss."""

from collections.abc import Iterator
from typing import Final

from catalog.domain import Part, Port
from service.fit.answer import Answer, Check, Option, Replaced, RuledOut
from service.fit.build import Build
from service.fit.graph import ConstraintGraph
from service.fit.mounting import mountings, open_ports
from service.fit.options import Assessed, assess, cautions, stack
from service.fit.paths import MOST_PLATES, FacePath, Seat, face_paths, seat
from service.fit.question import SLOTS, Question, resolve
from service.fit.ranking import above_next, order_key
from service.fit.rules import tested_plates

MOST_SEATS: Final = 1_000_000
"""Pumps on face paths looked at for one question; a question that needs more is not decided."""
MOST_RULED_OUT: Final = 20


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
    search.run()
    ranked = search.ranked()
    listed = _capped(ranked, build.limit, build.paths_per_pump)
    ruled_out = search.ruled_out() if search.decided else []
    return Answer(
        build=question.build,
        verdict="blocked" if not ranked else "fits" if ranked[0].verdict == "ok" else "measure_first",
        not_checked=tuple(field for field in SLOTS if field not in question.slots and field not in ("pump", "pulley")),
        replaced=tuple(Replaced(*replaced) for replaced in question.replaced),
        options=tuple(
            _option(question, option, following, rank)
            for rank, (option, following) in enumerate(zip(listed, [*listed[1:], None][: len(listed)], strict=True), 1)
        ),
        options_total=len(ranked),
        ruled_out=tuple(ruled_out[:MOST_RULED_OUT]),
        ruled_out_total=len(ruled_out),
        decided=search.decided,
    )


class _Search:
    """All face paths of a question, and the best order and pulley found for each pump and set of plates."""

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self.graph, self.question = graph, question
        self.best: dict[tuple[str, tuple[str, ...]], Assessed] = {}
        self.decided = True
        self.paths: dict[tuple[str, str], list[FacePath]] = {}
        for path in face_paths(graph, question):
            self.paths.setdefault((path.open.connection, path.open.end), []).append(path)
        self.pumps = self._pumps()

    def _pumps(self) -> dict[str, tuple[Part, list[Port]]]:
        """Pumps that some path reaches, with the mounts by which they are reached, in order of part number."""
        named = self.question.slots.get("pump")
        found: dict[str, tuple[Part, list[Port]]] = {}
        for paths in self.paths.values():
            for part, port in self.graph.meeting(paths[0].open):
                pump = self.question.part(part)
                if part.kind != "water_pump" or port.role != "mount" or (named and named.number != part.number):
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

    def run(self) -> None:
        """Assess every seat that the axis does not rule out."""
        looked_at = 0
        for pump, mounts in self.pumps.values():
            tested = tested_plates(self.graph, pump)
            choices = [
                (mounting, any(check.verdict == "fails" for check in mounting.static))
                for mounting in mountings(self.graph, self.question, pump)
            ]
            for found in self.seats(mounts):
                for mounting, hopeless in choices:
                    looked_at += 1
                    if looked_at > MOST_SEATS:
                        self.decided = False
                        return
                    if (not hopeless and mounting.possible(found.flange)) or found.key in tested:
                        self._keep(assess(self.graph, self.question, mounting, found))

    def _keep(self, option: Assessed) -> None:
        if option.verdict == "fails":
            return
        key = (option.mounting.pump.number, option.seat.key)
        known = self.best.get(key)
        keys = self.question.rank_keys
        if known is None or order_key(option, keys) < order_key(known, keys):
            self.best[key] = option

    def ranked(self) -> list[Assessed]:
        """The best of each pump and set of plates, the best of all first."""
        return sorted(self.best.values(), key=lambda option: order_key(option, self.question.rank_keys))

    def ruled_out(self) -> list[RuledOut]:
        """Pumps without an option, the nearest miss first."""
        with_option = {pump for pump, _ in self.best}
        missed = [
            self._miss(pump, mounts) for number, (pump, mounts) in self.pumps.items() if number not in with_option
        ]
        return [miss for _, miss in sorted(missed, key=lambda pair: pair[0])]

    def _miss(self, pump: Part, mounts: list[Port]) -> tuple[tuple[object, ...], RuledOut]:
        choices = list(mountings(self.graph, self.question, pump))
        found = min(
            ((mounting, place) for place in self.seats(mounts) for mounting in choices),
            key=lambda pair: (pair[0].shortfall(pair[1].flange), len(pair[1].plates), pair[1].order),
            default=None,
        )
        if found is None:
            facts = {"pump": pump.name, "engine": self.question.slots["engine"].name, "plates": MOST_PLATES}
            check = Check("face", "fails", "no_path", facts)
            return (True, 0, 0, pump.number), RuledOut(pump.number, pump.name, (), check, None, None)
        mounting, place = found
        option = assess(self.graph, self.question, mounting, place)
        failing = [check for check in option.checks if check.verdict == "fails"]
        first = failing[0]
        short = -first.margin if first.margin is not None and first.margin < 0 else None
        order = (any(check.margin is None for check in failing), len(failing), short or 0, pump.number)
        window = mounting.window(place.flange)
        return order, RuledOut(pump.number, pump.name, place.order, first, short, window)


def _capped(ranked: list[Assessed], limit: int, per_pump: int) -> list[Assessed]:
    """The options that are listed: at most so many a pump, so that ten lines are not one pump."""
    listed: list[Assessed] = []
    counts: dict[str, int] = {}
    for option in ranked:
        number = option.mounting.pump.number
        counts[number] = counts.get(number, 0) + 1
        if counts[number] <= per_pump and len(listed) < limit:
            listed.append(option)
    return listed


def _option(question: Question, option: Assessed, following: Assessed | None, rank: int) -> Option:
    margins = [check.margin for check in option.checks if check.margin is not None and check.reason != "tested_fit"]
    return Option(
        rank=rank,
        pump=option.mounting.pump.number,
        plates=option.seat.order,
        work=option.work,  # type: ignore[arg-type]
        verdict=option.verdict,  # type: ignore[arg-type]
        recommended=option.mounting.pump.recommended,
        buy_price=option.price,
        least_margin=min(margins) if margins else None,
        thickness_window=option.mounting.window(option.seat.flange),
        stack=stack(option),
        parts_list=option.lines,
        checks=option.checks,
        open_ports=open_ports(option.mounting.pump, option.mounting.pulley),
        cautions=cautions(option),
        above_next=above_next(option, following, question.rank_keys),
    )
