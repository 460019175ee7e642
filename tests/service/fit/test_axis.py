"""Tests along the axis on their very boundaries, with a limit that is known exactly and with one that is not."""

from fractions import Fraction
from random import Random

import pytest

from catalog.domain import Measure, Part
from service.fit.answer import Check, CheckVerdict
from service.fit.axis import AxialTest
from service.fit.belt import Place, Running, belt_plane_tests, entry_limit
from service.fit.stack import NOTHING, Sum

AT_ZERO = Sum.of((0, 0))


def within(low: int, high: int, limit: int, doubt: int = 0) -> CheckVerdict:
    return AxialTest("belt_plane", "belt_offset", Sum.of((low, high)), -1, limit, limit_doubt=doubt).verdict(AT_ZERO)


def at_least(low: int, high: int, limit: int, doubt: int = 0) -> CheckVerdict:
    base = Sum.of((low, high))
    return AxialTest("cover", "cover_clearance", base, 1, limit, at_least=True, limit_doubt=doubt).verdict(AT_ZERO)


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        # |d| <= 100 +- 10: holds for certain up to 90, and fails for certain only beyond 110.
        (-90, 90, "ok"),
        (-90, 91, "measure_first"),
        (-91, 90, "measure_first"),
        (95, 95, "measure_first"),
        (110, 110, "measure_first"),
        (110, 120, "measure_first"),
        (111, 111, "fails"),
        (111, 120, "fails"),
        (-120, -110, "measure_first"),
        (-120, -111, "fails"),
    ],
)
def test_a_doubtful_limit_holds_at_its_least_and_fails_at_its_most(low: int, high: int, verdict: str) -> None:
    assert within(low, high, 100, 10) == verdict


@pytest.mark.parametrize(
    ("low", "high", "verdict"),
    [
        (110, 120, "ok"),
        (109, 120, "measure_first"),
        (80, 90, "measure_first"),
        (80, 89, "fails"),
    ],
)
def test_what_must_be_at_least_a_doubtful_limit(low: int, high: int, verdict: str) -> None:
    assert at_least(low, high, 100, 10) == verdict


def test_a_limit_that_is_known_exactly() -> None:
    assert [within(-100, 100, 100), within(-100, 101, 100), within(101, 101, 100)] == ["ok", "measure_first", "fails"]
    assert [at_least(100, 100, 100), at_least(99, 100, 100), at_least(98, 99, 100)] == ["ok", "measure_first", "fails"]


def test_a_limit_of_which_nothing_may_be_left_never_holds_for_certain() -> None:
    assert within(0, 0, 100, 100) == "ok"
    assert within(0, 0, 100, 101) == "measure_first"


def test_the_windows_of_the_flange_say_what_the_verdicts_say() -> None:
    random = Random(3)
    seen = set()
    for _ in range(4_000):
        low, z = random.randint(-40, 40), random.randint(-40, 40)
        test = AxialTest(
            "belt_plane",
            "belt_offset",
            Sum.of((low, low + random.randint(0, 12))),
            random.choice((-1, 1)),
            Fraction(random.randint(0, 100), 3),
            at_least=random.random() < 0.4,
            limit_doubt=random.choice((0, Fraction(random.randint(0, 60), 7))),
        )
        flange = Sum.of((z, z + random.randint(0, 12)))
        verdict = test.verdict(flange)
        least, most = test.possible_flange()
        possible = (least is None or flange.high >= least) and (most is None or flange.low <= most)
        least, most = test.sure_flange()
        sure = (least is None or flange.low >= least) and (most is None or flange.high <= most)
        assert (possible, sure) == (verdict != "fails", verdict == "ok")
        seen.add((verdict, test.at_least, test.limit_doubt > 0))
    assert len(seen) == 12


def test_the_margins_of_a_check_count_the_doubt_of_the_limit() -> None:
    check = AxialTest("belt_plane", "belt_offset", Sum.of((10, 16)), -1, 100, limit_doubt=4).check(AT_ZERO)
    assert (check.limit, check.margin, check.worst_case) == (100, 87, 80)
    assert check.rss == 87 - 5  # the root of 3 squared and 4 squared


def test_the_doubt_of_the_limit_counts_in_the_likelihood() -> None:
    # The limit is as doubtful as the value, both normal: the difference of two such is within 3 deviations of 5.
    value = Sum.of((700_000, 1_300_000))
    alone = AxialTest("belt_plane", "belt_offset", value, -1, 1_200_000).check(AT_ZERO)
    both = AxialTest("belt_plane", "belt_offset", value, -1, 1_200_000, limit_doubt=400_000).check(AT_ZERO)
    assert alone.likelihood is not None
    assert both.likelihood is not None
    assert alone.likelihood == pytest.approx(0.98, abs=0.005)  # the normal distribution at 2 deviations
    wider = value + Sum.of((-400_000, 400_000))
    assert both.likelihood == pytest.approx(0.82, abs=0.02), wider.modified_rss_half
    assert AxialTest("belt_plane", "x", wider, -1, 1_200_000).check(AT_ZERO).likelihood == both.likelihood


def drive(**attributes: str) -> Part:
    measures = {
        "belt_plane": Measure("belt_plane", 100_000_000, 0, 0, "drawing", ""),
        "shortest_span": Measure("shortest_span", 192_000_000, 96_000_000, 19_200_000, "tape", ""),
    }
    return Part("D-1", "accessory_drive", "a drive", attributes=attributes, measures=measures)


def pump() -> Part:
    return Part("P-1", "water_pump", "a pump", measures={"belt_plane": Measure("belt_plane", 0, 0, 0, "drawing", "")})


def offering(place: Place) -> Running:
    return Running(Check("belt", "ok", "belt_suits"), (place,))


def test_the_limit_of_a_belt_is_as_doubtful_as_its_span() -> None:
    # 192 mm, 96 more or 19.2 less: 172.8 to 288, over 192 0.9 to 1.5, the middle of which is 1.2.
    limit, doubt = entry_limit(drive())
    assert (limit, doubt) == (1_200_000, 300_000)
    (ribbed,), missing = belt_plane_tests(drive(belt_side="ribbed"), pump(), None, offering(Place(0, limit, doubt)))
    assert not missing
    for offset, verdict in ((900_000, "ok"), (900_001, "measure_first"), (1_500_000, "measure_first")):
        assert ribbed.verdict(Sum.of((100_000_000 - offset,) * 2)) == verdict
        assert ribbed.verdict(Sum.of((100_000_000 + offset,) * 2)) == verdict
    assert ribbed.verdict(Sum.of((101_500_001,) * 2)) == "fails"
    assert "shortest_span" in [rest.measure for rest in ribbed.rests_on]


def test_the_room_on_a_smooth_surface_does_not_rest_on_the_span() -> None:
    (smooth,), _ = belt_plane_tests(drive(belt_side="smooth"), pump(), None, offering(Place(0, 2_000_000)))
    assert "shortest_span" not in [rest.measure for rest in smooth.rests_on]
    assert not any(rest.standard for rest in smooth.rests_on)
    assert smooth.limit_doubt == 0


def test_a_span_that_nobody_states_is_taken_as_it_is() -> None:
    silent = Part("D-2", "accessory_drive", "a drive")
    assert entry_limit(silent) == (Fraction(150_000_000, 192), 0)


def test_a_sum_without_doubt_is_not_widened() -> None:
    assert NOTHING.widened(0) is NOTHING
    assert (NOTHING.widened(5).low, NOTHING.widened(5).high, NOTHING.widened(5).rss_half) == (-5, 5, 5)
