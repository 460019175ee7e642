"""What a request was spent on, as its response says it (`Server-Timing`, W3C Server Timing)."""

from time import perf_counter
from typing import Final

HEADER: Final = "Server-Timing"
STEPS: Final = {
    "decode": "reading and checking the request",
    "wait": "until a thread was free and it was its turn",
    "answer": "finding the answer and its sentences",
    "encode": "making JSON or text of it",
    "compress": "coding it",
}
"""What is told, in the order in which it comes, and what each is; what a request did not need is left out."""
HIT: Final = "cache;desc=hit"


class Spent:
    """Time since it was made, step by step."""

    def __init__(self) -> None:
        self._since = perf_counter()
        self._steps: dict[str, float] = {}
        self.cache = ""
        """`hit`, `miss` or `joined` (another request was already finding the same); empty where nothing is kept."""

    def mark(self, step: str) -> None:
        """All since the last step went into this one."""
        now = perf_counter()
        self._steps[step] = self._steps.get(step, 0.0) + now - self._since
        self._since = now

    def text(self) -> str:
        """The header: milliseconds."""
        found = [f"cache;desc={self.cache}"] if self.cache else []
        return ", ".join([*found, *(f"{step};dur={seconds * 1e3:.3f}" for step, seconds in self._steps.items())])
