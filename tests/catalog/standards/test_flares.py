"""37-degree flare sizes: against the published table, its gaps, and wrong tables in circulation."""

from fractions import Fraction

import pytest

from catalog.domain import Connection
from catalog.standards import flares
from catalog.standards.flares import FLARES, flare_by_reading, parse_size

MM = 1_000_000

# Dash number = sixteenths of an inch, outside diameter of the tube: TM 1-1500-204-23-2, table 4-9. Threads: SAE J514
# and ISO 8434-2, from memory. Major diameters in mm computed.
TABLE = [
    (2, "3.175", "5/16-24", "7.9375"),
    (3, "4.7625", "3/8-24", "9.525"),
    (4, "6.35", "7/16-20", "11.1125"),
    (5, "7.9375", "1/2-20", "12.7"),
    (6, "9.525", "9/16-18", "14.2875"),
    (8, "12.7", "3/4-16", "19.05"),
    (10, "15.875", "7/8-14", "22.225"),
    (12, "19.05", "1-1/16-12", "26.9875"),
    (14, "22.225", "1-3/16-12", "30.1625"),  # SAE J514, not in the usual list
    (16, "25.4", "1-5/16-12", "33.3375"),
    (20, "31.75", "1-5/8-12", "41.275"),
    (24, "38.1", "1-7/8-12", "47.625"),
    (28, "44.45", "2-1/4-12", "57.15"),
    (32, "50.8", "2-1/2-12", "63.5"),
]
GAPS = (7, 9, 11, 13, 15, 17, 18, 19)


@pytest.mark.parametrize(("dash", "tube", "thread", "major"), TABLE)
def test_published_size(dash: int, tube: str, thread: str, major: str) -> None:
    flare = FLARES[dash]
    assert flare.dash == dash
    assert flare.tube == Fraction(tube) * MM
    assert flare.thread == thread
    assert flare.major == Fraction(major) * MM
    assert flare.threads_per_inch == int(thread.rpartition("-")[2])
    assert parse_size(f"-{dash}") == ("flare_37", dash)


def test_nothing_but_the_published_sizes() -> None:
    assert sorted(FLARES) == [dash for dash, *_ in TABLE]


@pytest.mark.parametrize("dash", GAPS)
def test_gaps_of_the_table_are_refused(dash: int) -> None:
    # The gaps of the table above; what is refused names its neighbours.
    with pytest.raises(ValueError, match=f"no 37-degree flare of size -{dash};"):
        parse_size(f"-{dash}")


@pytest.mark.parametrize("dash", [1, 21, 22, 23, 25, 26, 30, 33, 40, 99])
def test_other_numbers_are_refused(dash: int) -> None:
    with pytest.raises(ValueError, match="no 37-degree flare"):
        parse_size(f"-{dash}")


def test_size_12_in_full() -> None:
    # -12: 19.05 mm tube, 1.0625-12, pitch 25.4/12 = 2.116667 mm (table above, computed).
    flare = FLARES[12]
    assert flare.tube == 19_050_000
    assert Fraction(flare.major, 25_400_000) == Fraction("1.0625")
    assert float(Fraction("25.4") / flare.threads_per_inch) == pytest.approx(2.116667, abs=1e-6)


@pytest.mark.parametrize(("dash", "low", "high"), [(6, 14_200_000, 14_300_000), (8, 18_950_000, 19_050_000)])
def test_caliper_reading(dash: int, low: int, high: int) -> None:
    # 14.2 to 14.3 mm and 18 threads to the inch is -6 and never -8 (table above).
    found = flare_by_reading((low, high), FLARES[dash].threads_per_inch)
    assert found is FLARES[dash]


@pytest.mark.parametrize("threads", [16, 14, 12, 20, 24])
def test_a_reading_with_another_pitch_is_not_that_size(threads: int) -> None:
    assert flare_by_reading((14_200_000, 14_300_000), threads) is None


@pytest.mark.parametrize(("dash", "_tube", "_thread", "major"), TABLE)
def test_every_size_is_told_by_its_own_thread(dash: int, _tube: str, _thread: str, major: str) -> None:
    """A tenth of a millimetre of wear (common practice, no source) leaves every size apart from the next."""
    size = int(Fraction(major) * MM)
    assert flare_by_reading((size - 100_000, size), FLARES[dash].threads_per_inch) is FLARES[dash]


def test_45_degrees_never_meets_37_though_threads_agree() -> None:
    """They are two connections, and ports meet within one only.

    The 45-degree flare (SAE J512) shares threads with the 37-degree one and must not mate with it. The thread in
    common, 7/16-20 of the quarter-inch tube, is from memory.
    """
    ends = ("male", "female")
    steep = Connection("flare_4", "-4 flare", "flare_37", ends, "metal", size="-4")
    shallow = Connection("flare_45_quarter", "45-degree flare, 1/4 in tube", "flare_45", ends, "metal")
    assert FLARES[4].thread == "7/16-20"
    assert steep.name != shallow.name
    assert parse_size("-4")[0] == steep.sort != shallow.sort
    for text in ("-4 45", "45 -4", "1/4 in flare", "1/4-45"):
        with pytest.raises(ValueError, match="is not a size"):
            parse_size(text)


def test_45_degree_thread_of_the_size_of_12_has_another_pitch() -> None:
    # 45-degree 1-1/16 has 14 threads to the inch where -12 has 12 (SAE J512, from memory).
    size = FLARES[12].major
    assert flare_by_reading((size - 50_000, size), 12) is FLARES[12]
    assert flare_by_reading((size - 50_000, size), 14) is None


@pytest.mark.parametrize(
    ("dash", "wrong"),
    [
        (6, "5/8-18"),  # a web page gives the thread of the 45-degree flare (SAE J512)
        (20, "1-9/16-18"),  # a public repository
        (3, "10-32"),  # a page lists the threads of AN bolts as if they were tube fittings
        (4, "1/4-28"),
    ],
)
def test_wrong_tables_in_circulation_are_not_copied(dash: int, wrong: str) -> None:
    assert FLARES[dash].thread != wrong
    assert wrong not in {flare.thread for flare in FLARES.values()}


def test_a_reading_of_a_wrong_table_finds_no_size() -> None:
    for major, threads in (("15.875", 18), ("39.6875", 18), ("4.826", 32), ("6.35", 28)):
        size = int(Fraction(major) * MM)
        assert flare_by_reading((size - 100_000, size), threads) is None


# Inside diameters of hoses: 1 in = 25.4 mm exactly (NIST SP 811, from memory), computed.
@pytest.mark.parametrize(
    ("said", "size"),
    [
        ("5/8 in hose", "15.875"),
        ("3/4 in hose", "19.05"),
        ("1 in hose", "25.4"),
        ("1 1/4 in hose", "31.75"),
        ("1-1/4 in hose", "31.75"),
        ("1 1/2 in hose", "38.1"),
        ("1.5 in hose", "38.1"),
        ('1 1/2" hose', "38.1"),
        ("1 3/4 in hose", "44.45"),
        ("2 in hose", "50.8"),
        ("38 mm hose", "38"),
        ("32 mm hose", "32"),
    ],
)
def test_hose_sizes_as_people_say_them(said: str, size: str) -> None:
    assert parse_size(said) == ("hose", int(Fraction(size) * MM))


def test_metric_and_inch_hoses_are_not_merged() -> None:
    # 38 mm and 1-1/2 in differ by 0.1 mm, 32 mm and 1-1/4 in by 0.25 mm (computed).
    assert parse_size("1 1/2 in hose")[1] - parse_size("38 mm hose")[1] == 100_000
    assert parse_size("32 mm hose")[1] - parse_size("1 1/4 in hose")[1] == 250_000


def test_a_flare_is_a_sixteenth_a_number_whatever_the_hose() -> None:
    """-16 is the size of a 1 in hose and still another connection."""
    assert FLARES[16].tube == parse_size("1 in hose")[1]
    assert parse_size("-16") != parse_size("1 in hose")


@pytest.mark.parametrize(
    "text", ["", "16", "- 16", "-016", "-0", "1 1/2 in", "hose", "-16 hose", "1/0 in hose", "-16\n"]
)
def test_what_is_no_size(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a size|divides by zero"):
        parse_size(text)


def test_the_grammar_of_the_schema_is_the_parser_s() -> None:
    assert flares.SIZE.startswith("^")
    assert flares.SIZE.endswith("$")
