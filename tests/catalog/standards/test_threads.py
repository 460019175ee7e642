"""Bolts: against the published tables of ISO 4014 and ISO 4017, and a worked pick."""

import pytest

from catalog.standards import threads

MM = 1_000_000


# ISO 261, coarse and fine series.
@pytest.mark.parametrize(
    ("thread", "size"), [("M6x1", 6), ("M8x1.25", 8), ("M8x1", 8), ("M10x1.5", 10), ("M10x1.25", 10)]
)
def test_diameter_of_a_thread(thread: str, size: int) -> None:
    assert threads.diameter(thread) == size * MM


# b = 2d + 6 up to 125 mm, 2d + 12 up to 200, 2d + 25 beyond: ISO 4014, and computed.
@pytest.mark.parametrize(
    ("thread", "lengths"), [("M6x1", (18, 24, 37)), ("M8x1.25", (22, 28, 41)), ("M10x1.5", (26, 32, 45))]
)
def test_thread_length(thread: str, lengths: tuple[int, int, int]) -> None:
    short, middle, long = lengths
    assert threads.thread_length(thread, 50 * MM) == threads.thread_length(thread, 125 * MM) == short * MM
    assert threads.thread_length(thread, 126 * MM) == threads.thread_length(thread, 200 * MM) == middle * MM
    assert threads.thread_length(thread, 201 * MM) == long * MM


def test_stock_lengths() -> None:
    # ISO 4014 and ISO 4017 as far as 100 mm.
    # 42 is in no series; 75, 85 and 95 are in ISO 888 and DIN 931 but not in these.
    published = (12, 16, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100)
    assert tuple(length for length in threads.STOCK_LENGTHS if length <= 100) == published
    for absent in (42, 75, 85, 95):
        assert absent not in threads.STOCK_LENGTHS


# js15: ISO 888.
@pytest.mark.parametrize(
    ("lengths", "tolerance"),
    [
        ((10,), 0.29),
        ((12, 16), 0.35),
        ((20, 25, 30), 0.42),
        ((35, 40, 45, 50), 0.50),
        ((55, 60, 65, 70, 80), 0.60),
        ((90, 100), 0.70),
    ],
)
def test_length_tolerance(lengths: tuple[int, ...], tolerance: float) -> None:
    for length in lengths:
        assert threads.length_tolerance(length * MM) == round(tolerance * MM)


# From memory: ISO 286-1, half of IT15 (80 to 120 mm 1.40, 120 to 180 mm 1.60); beyond 150 mm ISO 4014 is of
# product grade B, whose js17 is half of IT17 (120 to 180 mm 4.0, 180 to 250 mm 4.6).
@pytest.mark.parametrize(("length", "tolerance"), [(120, 0.70), (130, 0.80), (150, 0.80), (160, 2.0), (200, 2.3)])
def test_length_tolerance_of_long_bolts(length: int, tolerance: float) -> None:
    assert threads.length_tolerance(length * MM) == round(tolerance * MM)


# Property class 8.8. Steel: 1.0 d (a fastener supplier's handbook, p. 677), 1.0 to 1.2 d (Roloff/Matek). Aluminium:
# 2 d (VDI 2230, and that handbook). Cast iron: 1.5 d (Roloff/Matek). In steel the lower figure is taken, with which
# the bolt breaks before the thread strips.
@pytest.mark.parametrize(
    ("material", "least", "most"), [("steel", 1, 1.2), ("aluminium", 2, 2), ("cast_iron", 1.5, 1.5)]
)
def test_least_engagement_lies_within_what_is_published(material: str, least: float, most: float) -> None:
    for thread in ("M6x1", "M8x1.25", "M10x1.5"):
        diameter = threads.diameter(thread)
        assert least * diameter <= threads.least_engagement(thread, material) <= most * diameter


def test_least_engagement_of_an_m8_bolt() -> None:
    assert threads.least_engagement("M8x1.25", "steel") == 8 * MM
    assert threads.least_engagement("M8x1.25", "cast_iron") == 12 * MM
    assert threads.least_engagement("M8x1.25", "aluminium") == 16 * MM


def test_worked_bolt_pick() -> None:
    # Computed from the tables above: grip 27.4 + washer 1.6 (ISO 7089) + engagement 12 (M8, 1.5 d) = 41.0, so the
    # ISO 4017 length is 45: 40 leaves 11 mm, 42 is not in the series. Engagement is then 16.0 nominal, and
    # 15.5 to 16.5 from the bolt's js15 of 0.50 alone.
    clamped = 27_400_000 + 1_600_000
    wanted = clamped + threads.least_engagement("M8x1.25", "cast_iron")
    assert wanted == 41 * MM
    length = threads.stock_length_at_least(wanted)
    assert length == 45 * MM
    assert 40 * MM - clamped == 11 * MM
    tolerance = threads.length_tolerance(length)
    assert (length - clamped - tolerance, length - clamped + tolerance) == (15_500_000, 16_500_000)


def test_stock_length_at_the_ends() -> None:
    assert threads.stock_length_at_least(1) == 12 * MM
    assert threads.stock_length_at_least(45 * MM) == 45 * MM
    assert threads.stock_length_at_least(45 * MM + 1) == 50 * MM
    assert threads.stock_length_at_least(150 * MM + 1) is None
