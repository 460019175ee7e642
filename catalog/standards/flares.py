"""37-degree flare ends, as tubes and hoses are sized by them."""

import re
from typing import Final, NamedTuple

from catalog.units import NM_PER_INCH, parse_length


class Flare(NamedTuple):
    """One size of 37-degree flare. Lengths in nanometres; the thread as it is written, diameter-threads per inch."""

    dash: int
    tube: int
    """Outside diameter of the tube, which is the inside diameter of the hose: the dash number in sixteenths."""
    thread: str

    @property
    def major(self) -> int:
        """Major diameter of the thread, nm."""
        return parse_length(f"{self.thread.rpartition('-')[0].replace('-', ' ')} in")

    @property
    def threads_per_inch(self) -> int:
        """Threads in an inch."""
        return int(self.thread.rpartition("-")[2])


_THREADS: Final = {
    2: "5/16-24",
    3: "3/8-24",
    4: "7/16-20",
    5: "1/2-20",
    6: "9/16-18",
    8: "3/4-16",
    10: "7/8-14",
    12: "1-1/16-12",
    14: "1-3/16-12",  # in SAE J514, not in the usual list
    16: "1-5/16-12",
    20: "1-5/8-12",
    24: "1-7/8-12",
    28: "2-1/4-12",
    32: "2-1/2-12",
}
FLARES: Final = {dash: Flare(dash, dash * NM_PER_INCH // 16, thread) for dash, thread in _THREADS.items()}
"""The published sizes (SAE J514, ISO 8434-2; the threads from memory).

There is no -7, -9, -11, -13, -15, -17, -18 or -19. The seat is 37 degrees a side. A 45-degree flare (SAE J512) shares
some threads and never mates with it."""


def flare_by_reading(major: tuple[int, int], threads_per_inch: int) -> Flare | None:
    """The flare whose thread was read with a caliper and a thread gauge; None where no size has it.

    Parameters
    ----------
    major
        The least and the greatest outside diameter read, nm. A used thread reads a little small: up to 0.2 mm
        (common practice, no source).
    """
    low, high = major
    found = [
        flare
        for flare in FLARES.values()
        if flare.threads_per_inch == threads_per_inch and low <= flare.major <= high + 200_000
    ]
    return found[0] if len(found) == 1 else None


SIZE: Final = r"^(-[1-9][0-9]?|[0-9]{1,3}([ -][0-9]{1,2}/[0-9]{1,2}|/[0-9]{1,2}|\.[0-9]{1,3})? ?(mm|in|\") ?hose)$"
"""How a size is said: "1 1/2 in hose", "38 mm hose", "-16"."""


_OF_JOINTS: Final = re.compile(r"([0-9][0-9 ./-]*(?:mm|in)) (pipe thread|tube|bore)")
"""How the sizes of joints are said that nobody asks for by their size."""


def parse_size(text: str) -> tuple[str, int]:
    """What a size means: `("flare_37", dash)` of "-16", or `("hose", inside diameter in nm)` of "1 1/2 in hose".

    A connection may also say its size as "1/2 in pipe thread" (called by the nominal pipe size, ASME B1.20.1), as
    "1/2 in tube" or, of anything else that coolant runs through, as "1 1/2 in bore": the word, and the length in nm.

    Raises
    ------
    ValueError
        When it is not a size, or no flare of that number is published.
    """
    joint = _OF_JOINTS.fullmatch(text)
    if joint is not None:
        return joint[2], parse_length(joint[1])
    if not re.fullmatch(SIZE, text):
        raise ValueError(f'"{text}" is not a size; write it as "1 1/2 in hose", "38 mm hose" or "-16"')
    if text.startswith("-"):
        dash = int(text[1:])
        if dash not in FLARES:
            near = sorted(FLARES, key=lambda known: (abs(known - dash), known))[:2]
            known = " and ".join(f"-{size}" for size in sorted(near))
            raise ValueError(f"there is no 37-degree flare of size {text}; the nearest are {known}")
        return "flare_37", dash
    inside = parse_length(text.removesuffix("hose").strip())
    if inside == 0:
        raise ValueError(f'"{text}" is no size: a hose has an inside')
    return "hose", inside


def nominal_size(text: str) -> int:
    """The nominal inside of what is called by a size, nm: of a flare that of its hose, a sixteenth of an inch a dash.

    Raises
    ------
    ValueError
        When it is not a size.
    """
    sort, size = parse_size(text)
    return FLARES[size].tube if sort == "flare_37" else size
