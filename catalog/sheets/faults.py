"""What is wrong with sheets: each fault with its file, row and column, all of them at once."""

from typing import Final

import msgspec

MOST_FAULTS: Final = 100
"""Faults that are told; further ones are counted."""


class Place(msgspec.Struct, frozen=True):
    """Where in which file; row and column are counted from 1, 0 is none."""

    file: str
    row: int = 0
    column: int = 0
    heading: str = ""

    def __str__(self) -> str:
        words = [self.file]
        if self.row:
            words.append(f"row {self.row}")
        if self.column:
            heading = f"{self.heading} " if self.heading else ""
            words.append(f"column {heading}({letter(self.column)})")
        return ", ".join(words)


class Fault(msgspec.Struct, frozen=True):
    """One fault: its place and a sentence that says what is wrong and what would be right."""

    place: Place
    text: str

    def __str__(self) -> str:
        return f"{self.place}: {self.text}"


class Faults:
    """Collects faults: the first MOST_FAULTS are told, further ones are counted."""

    def __init__(self) -> None:
        self.told: list[Fault] = []
        self.count = 0

    def add(self, place: Place, text: str) -> None:
        """Take in one fault."""
        self.count += 1
        if self.room:
            self.told.append(Fault(place, text))

    @property
    def room(self) -> bool:
        """Whether a further fault would be told."""
        return len(self.told) < MOST_FAULTS

    def __bool__(self) -> bool:
        return self.count > 0


class SheetFaults(Exception):
    """Sheets cannot be proposed; nothing was written. The message lists every fault, at most MOST_FAULTS of them."""

    def __init__(self, faults: Faults) -> None:
        self.faults = faults
        lines = "".join(f"\n  - {fault}" for fault in faults.told)
        more = faults.count - len(faults.told)
        ending = f"\n  and {more:,} more" if more else ""
        number = "1 fault" if faults.count == 1 else f"{faults.count:,} faults"
        super().__init__(f"Nothing is written; the sheets have {number}:{lines}{ending}")


def letter(column: int) -> str:
    """The letter of a column as spreadsheets count them: 1 is A, 27 is AA."""
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
