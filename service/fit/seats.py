"""Every seat of a question, made once for all pumps with mounts alike and sorted by where it puts their flange."""

from bisect import bisect_left
from collections.abc import Iterator

from catalog.domain import Port
from service.fit.graph import ConstraintGraph
from service.fit.paths import FacePath, Seat, face_paths, seat
from service.fit.question import Question

Reach = tuple[int | None, int | None]
"""A flange in [low, high] nm is within reach where high is no less than the first and low no more than the second."""


class Seats:
    """Seats for one kind of mount."""

    def __init__(self, seats: Iterator[Seat]) -> None:
        self.all = sorted(seats, key=lambda seat: (seat.flange.high, len(seat.plates), seat.order))
        self._highs = [seat.flange.high for seat in self.all]
        self._widest = max((seat.flange.high - seat.flange.low for seat in self.all), default=0)

    def meeting(self, reaches: tuple[Reach, ...]) -> Iterator[Seat]:
        """The seats within any of these reaches, each once."""
        places: set[int] = set()
        for least, most in reaches:
            start = 0 if least is None else bisect_left(self._highs, least)
            end = len(self.all) if most is None else bisect_left(self._highs, most + self._widest + 1)
            places.update(place for place in range(start, end) if most is None or self.all[place].flange.low <= most)
        for place in sorted(places):
            yield self.all[place]


class SeatTable:
    """The seats of one question by the kind of mount.

    They follow from its engine, its readings and what it goes without; questions that agree in these share them.
    """

    def __init__(self, graph: ConstraintGraph, question: Question) -> None:
        self._graph, self._question = graph, question
        self._paths: dict[tuple[str, str], list[FacePath]] = {}
        self._seats: dict[tuple[str, str, str | None], Seats] = {}
        for path in face_paths(graph, question):
            self._paths.setdefault((path.open.connection, path.open.end), []).append(path)

    @property
    def open_ports(self) -> list[Port]:
        """One open port of each kind that some path reaches."""
        return [paths[0].open for paths in self._paths.values()]

    def of(self, mount: Port) -> Seats:
        """The seats of this mount."""
        key = (mount.connection, mount.end, mount.gasket)
        if key not in self._seats:
            inner = self._graph.connection(mount.connection).other_end(mount.end)
            paths = self._paths.get((mount.connection, inner), ())
            found = (seat(self._graph, self._question, path, mount) for path in paths)
            self._seats[key] = Seats(each for each in found if each is not None)
        return self._seats[key]
