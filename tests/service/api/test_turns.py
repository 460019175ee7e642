"""Those who find answers take turns, but nobody waits long for one that takes long."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event
from time import monotonic

import pytest

from service.api import turns
from service.api.turns import Turns


def test_one_begins_when_the_one_before_has_ended() -> None:
    taken, begun, go_on = Turns(), Event(), Event()
    order: list[str] = []

    def first() -> None:
        with taken.turn():
            begun.set()
            assert go_on.wait(30)
            order.append("first")

    def second() -> None:
        assert begun.wait(30)
        go_on.set()
        with taken.turn():
            order.append("second")

    with ThreadPoolExecutor(2) as threads:
        for each in [threads.submit(first), threads.submit(second)]:
            each.result(30)
    assert order == ["first", "second"]


def test_one_that_takes_long_keeps_nobody_waiting_to_its_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(turns, "TURN_SECONDS", 0.1)
    taken, begun, go_on = Turns(), Event(), Event()
    order: list[str] = []

    def slow() -> None:
        with taken.turn():
            begun.set()
            assert go_on.wait(30)
        order.append("slow")

    def quick() -> None:
        with taken.turn():
            order.append("quick")

    with ThreadPoolExecutor(2) as threads:
        ended = threads.submit(slow)
        assert begun.wait(30)
        for _ in range(2):
            threads.submit(quick).result(20)
        go_on.set()
        ended.result(30)
    assert order == ["quick", "quick", "slow"]


def test_a_turn_that_failed_is_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(turns, "TURN_SECONDS", 60)
    taken = Turns()
    with pytest.raises(ValueError, match="failed"), taken.turn():
        raise ValueError("failed")
    started = monotonic()
    with taken.turn():
        assert monotonic() - started < 30
