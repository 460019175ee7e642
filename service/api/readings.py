"""The asker's readings as the command line takes them: `WP-220 belt_plane=5 3/4 in tape`."""

import re
from typing import Any, Final

_READING: Final = re.compile(
    r"\s*(?P<part>\S+)\s+(?P<measure>[^\s=]+)\s*=\s*(?P<value>.+?)"
    r"(?:\s*(?:\+/-|±)\s*(?P<plus_minus>.+?))?(?:\s+(?P<taken_with>drawing|caliper|tape))?\s*"
)


def parse_reading(text: str) -> dict[str, Any]:
    """One entry of a build's `measured`.

    Raises
    ------
    ValueError
        When the text is not `PART MEASURE=LENGTH [+/- LENGTH] [drawing|caliper|tape]`.
    """
    found = _READING.fullmatch(text)
    if found is None:
        raise ValueError(
            f'"{text}" is not a reading; write it as "PART measure=5 3/4 in tape", '
            "with how it was taken (drawing, caliper or tape) at the end"
        )
    return {name: value for name, value in found.groupdict().items() if value is not None}
