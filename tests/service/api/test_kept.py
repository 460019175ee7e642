"""What is kept of answers: bounded in bytes, the longest unused pushed out, made once for many who ask at once."""

import threading
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.api.kept import ENTRY_BYTES, BeingMade, Content, Kept
from service.api.settings import DEFAULT_CACHE_MB, Settings, WrongSetting


def content(size: int) -> Content:
    return Content(bytes(size), "application/json", "identity")


# `None` asks for an answer, a number keeps one of so many bytes.
@given(st.lists(st.tuples(st.sampled_from("abcdef"), st.none() | st.integers(0, 4_000)), max_size=40))
def test_it_keeps_the_last_used_within_its_limit(steps: list[tuple[str, int | None]]) -> None:
    limit = 8_000
    kept = Kept(limit)
    model: list[tuple[str, int]] = []  # the last used at the end
    for tag, size in steps:
        at_hand = dict(model)
        if size is None:
            found = kept.content(tag)
            assert (None if found is None else len(found.body)) == at_hand.get(tag)
            if tag in at_hand:
                model = [*((t, s) for t, s in model if t != tag), (tag, at_hand[tag])]
        else:
            kept.keep(tag, content(size), size)
            model = [*((t, s) for t, s in model if t != tag), (tag, size)]
            while sum(s + ENTRY_BYTES for _, s in model) > limit:
                model.pop(0)
        tally = kept.tally()
        assert tally.size == sum(s + ENTRY_BYTES for _, s in model) <= limit
        assert tally.entries == len(model)


def test_what_is_larger_than_the_limit_is_not_kept() -> None:
    kept = Kept(1_000)
    kept.keep("small", content(10), 10)
    kept.keep("large", content(2_000), 2_000)
    assert kept.content("large") is None
    assert kept.content("small") is not None
    assert Kept(0).make("any", lambda: content(5)) == content(5)


def test_only_what_is_quick_and_asked_again_is_made_ahead(monkeypatch: pytest.MonkeyPatch) -> None:
    clock, kept = [0.0], Kept(100_000)
    monkeypatch.setattr(time, "thread_time", lambda: clock[0])

    def taking(seconds: float) -> Callable[[], Content]:
        def make() -> Content:
            clock[0] += seconds
            return content(1)

        return make

    def ahead(_: object) -> None: ...

    def another(_: object) -> None: ...

    def unused(_: object) -> None: ...

    kept.make("first", taking(0.1), 0, ahead)
    kept.make("slow", taking(0.3), 0, unused)
    kept.make("second", taking(0.1), 0, another)
    kept.make("once", taking(0.1), 0, unused)
    assert kept.asked_again(10) == []
    for tag in ("second", "slow", "first"):
        assert kept.content(tag)
    assert kept.asked_again(10) == [ahead, another]
    assert kept.asked_again(1) == [ahead]


def test_while_one_makes_it_others_are_told_so() -> None:
    kept, begun, go_on = Kept(100_000), threading.Event(), threading.Event()

    def make() -> Content:
        begun.set()
        assert go_on.wait(10)
        return content(7)

    def failing() -> Content:
        raise ValueError("the first")

    with ThreadPoolExecutor(1) as pool:
        first = pool.submit(kept.make, "tag", make)
        assert begun.wait(10)
        with pytest.raises(BeingMade) as told:
            kept.make("tag", make)
        assert kept.make("another", lambda: content(1)) == content(1)
        go_on.set()
        assert told.value.other.result(10) == first.result(10) == content(7) == kept.content("tag")
    with pytest.raises(ValueError, match="the first"):
        kept.make("fails", failing)
    assert kept.make("fails", lambda: content(1)) == content(1)


def test_the_limit_is_a_setting() -> None:
    assert Settings.from_environment({}).cache_mb == DEFAULT_CACHE_MB
    assert Settings.from_environment({"BELTPLANE_CACHE_MB": "0"}).cache_mb == 0
    for wrong in ("-1", "1.5", "much", "65537", "²"):
        with pytest.raises(WrongSetting, match="BELTPLANE_CACHE_MB must be a whole number from 0 to 65536"):
            Settings.from_environment({"BELTPLANE_CACHE_MB": wrong})
