"""The core of a question in SQL, as a shop would ask an indexed SQLite database of its own."""

import sqlite3
from typing import Final

from tests.bench.core import Core

Row = tuple[int, str, str, int, int, int]
"""Cents, pump, pulley and the places of up to three plates (0: none)."""

_TABLES: Final = """
CREATE TABLE place (pump TEXT, pulley TEXT, cents INTEGER, rotation TEXT, belt_low INTEGER, belt_high INTEGER,
                    belt_limit INTEGER, room INTEGER, room_sensor INTEGER, room_connector INTEGER,
                    alone_low INTEGER, alone_high INTEGER, stacks INTEGER) STRICT;
CREATE TABLE plate (id INTEGER PRIMARY KEY, low INTEGER, high INTEGER, cents INTEGER) STRICT;
CREATE TABLE stack (low INTEGER, high INTEGER, cents INTEGER, a INTEGER, b INTEGER, c INTEGER) STRICT;
CREATE INDEX place_by_rotation ON place (rotation, belt_low);
CREATE INDEX plate_by_thickness ON plate (high, low, cents, id);
CREATE INDEX stack_by_thickness ON stack (high, low, cents, a, b, c);
"""
_WINDOWS: Final = """
SELECT pump, pulley, cents, stacks, alone_low, alone_high, :belt_high - belt_low + belt_limit AS high,
       max(:belt_low - belt_high - belt_limit, :height - room, :height_sensor - room_sensor,
           :height_connector - room_connector) AS low
FROM place WHERE rotation = :rotation AND belt_low <= :belt_high + belt_limit
"""
_ALONE: Final = """
SELECT p.cents, p.pump, p.pulley, 0, 0, 0 FROM windowed p WHERE p.alone_high >= p.low AND p.alone_low <= p.high
"""
# Plates are numbered by thickness, so the first of two is no thicker than half of what is wanted: the index on it
# finds each plate within bounds that leave few to look at.
_ONE: Final = """
SELECT p.cents + a.cents, p.pump, p.pulley, a.id, 0, 0
FROM windowed p JOIN plate a ON a.high >= p.low - :base_high AND a.high <= p.high - :base_low + :slack
WHERE p.stacks AND a.low <= p.high - :base_low
"""
_TWO: Final = """
SELECT p.cents + a.cents + b.cents, p.pump, p.pulley, a.id, b.id, 0
FROM windowed p CROSS JOIN plate a ON a.high <= (p.high - :base_low) / 2 + :slack
CROSS JOIN plate b ON b.high >= max(a.high, p.low - :base_high - a.high)
                  AND b.high <= p.high - :base_low - a.low + :slack
WHERE p.stacks AND a.id <= b.id AND b.low <= p.high - :base_low - a.low
"""
_THREE: Final = """
SELECT p.cents + a.cents + b.cents + c.cents, p.pump, p.pulley, a.id, b.id, c.id
FROM windowed p CROSS JOIN plate a ON a.high <= (p.high - :base_low) / 3 + :slack
CROSS JOIN plate b ON b.high >= a.high AND b.high <= (p.high - :base_low - a.low) / 2 + :slack
CROSS JOIN plate c ON c.high >= max(b.high, p.low - :base_high - a.high - b.high)
                  AND c.high <= p.high - :base_low - a.low - b.low + :slack
WHERE p.stacks AND a.id <= b.id AND b.id <= c.id AND c.low <= p.high - :base_low - a.low - b.low
"""
_BEST: Final = "WITH windowed AS MATERIALIZED ({windows}) SELECT * FROM ({union}) ORDER BY 1, 2, 3, 4, 5, 6 LIMIT 10"
_PREPARED: Final = """
SELECT p.cents + s.cents, p.pump, p.pulley, s.a, s.b, s.c
FROM windowed p JOIN stack s ON s.high >= p.low - :base_high AND s.high <= p.high - :base_low + :stack_slack
WHERE p.stacks AND s.low <= p.high - :base_low
"""


class SqlPeer:
    """An SQLite database in memory with the core's tables, and its query for stacks of at most so many plates.

    `joined` puts the stacks together in the query, each last plate found by the index on its thickness; `prepared`
    has every stack in a table of its own beforehand, indexed by thickness.
    """

    def __init__(self, core: Core, most: int) -> None:
        self._connection = sqlite3.connect(":memory:", cached_statements=16)
        self._connection.executescript(_TABLES)
        insert = self._connection.executemany
        insert(
            "INSERT INTO place VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                (p.pump, p.pulley, p.cents, p.rotation, *p.belt, p.limit, *p.rooms, *p.alone, int(p.stacks))
                for p in core.places
            ),
        )
        plates = list(enumerate(core.plates, start=1))
        insert("INSERT INTO plate VALUES (?, ?, ?, ?)", ((place, p.low, p.high, p.cents) for place, p in plates))
        base = "INSERT INTO stack SELECT a.low, a.high, a.cents, a.id, 0, 0 FROM plate a"
        self._connection.execute(base)
        if most > 1:
            self._connection.execute(
                "INSERT INTO stack SELECT a.low + b.low, a.high + b.high, a.cents + b.cents, a.id, b.id, 0 "
                "FROM plate a JOIN plate b ON a.id <= b.id"
            )
        if most > 2:
            self._connection.execute(
                "INSERT INTO stack SELECT a.low + b.low + c.low, a.high + b.high + c.high, "
                "a.cents + b.cents + c.cents, a.id, b.id, c.id "
                "FROM plate a JOIN plate b ON a.id <= b.id JOIN plate c ON b.id <= c.id"
            )
        self._connection.execute("ANALYZE")
        slack = max((plate.high - plate.low for plate in core.plates), default=0)
        self._given: dict[str, str | int] = {
            "base_low": core.base[0],
            "base_high": core.base[1],
            "slack": slack,
            "stack_slack": most * slack,
            "rotation": core.asked.rotation,
            "belt_low": core.asked.belt[0],
            "belt_high": core.asked.belt[1],
            **dict(zip(("height", "height_sensor", "height_connector"), core.asked.heights, strict=True)),
        }
        joined = (_ALONE, _ONE, _TWO, _THREE)[: most + 1]
        self._joined = _BEST.format(windows=_WINDOWS, union=" UNION ALL ".join(joined))
        self._prepared = _BEST.format(windows=_WINDOWS, union=" UNION ALL ".join((_ALONE, _PREPARED)))

    def joined(self) -> list[Row]:
        """The ten cheapest, stacks put together in the query."""
        return self._connection.execute(self._joined, self._given).fetchall()

    def prepared(self) -> list[Row]:
        """The ten cheapest, from the table of stacks."""
        return self._connection.execute(self._prepared, self._given).fetchall()
