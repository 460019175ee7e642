"""What a process of the operating system takes, as Linux tells it."""

from pathlib import Path

from tests.serving import Served


def workers(served: Served) -> list[int]:
    """The processes that answer: what the started one has started."""
    main = served.process.pid
    return [int(pid) for pid in Path(f"/proc/{main}/task/{main}/children").read_text().split()]


def used(pid: int) -> float:
    """Seconds of a processor's time that its threads have used."""
    return sum(int(path.read_text().split()[0]) for path in Path(f"/proc/{pid}/task").glob("*/schedstat")) / 1e9


def resident(pid: int) -> float:
    """Megabytes that it holds in memory (RSS)."""
    return _status(pid, "VmRSS")


def highest(pid: int) -> float:
    """Megabytes that it held at most since it was told to forget (`forget_highest`)."""
    return _status(pid, "VmHWM")


def forget_highest(pid: int) -> None:
    """Let `highest` begin again with what is held now."""
    Path(f"/proc/{pid}/clear_refs").write_text("5")


def proportional(pid: int) -> float:
    """Megabytes that it holds, those that it shares by their share (PSS)."""
    return _field(Path(f"/proc/{pid}/smaps_rollup"), "Pss")


def _status(pid: int, name: str) -> float:
    return _field(Path(f"/proc/{pid}/status"), name)


def _field(path: Path, name: str) -> float:
    line = next(line for line in path.read_text().splitlines() if line.startswith(f"{name}:"))
    return int(line.split()[1]) * 1024 / 1_000_000
