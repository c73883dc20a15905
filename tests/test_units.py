"""Distances, times and paces in and out."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder import units


def test_race_distances_are_exact() -> None:
    """World Athletics Competition Rules: 42.195 km; the half is its half. International mile: 1609.344 m."""
    assert units.MARATHON_M == 42195.0
    assert units.HALF_MARATHON_M == 21097.5
    assert units.MILE_M == 1609.344
    assert units.parse_distance("10 mi") == pytest.approx(16093.44, abs=1e-9)
    assert pytest.approx(42194.988, abs=1e-9) == 26 * units.MILE_M + 385 * units.YARD_M  # 26 miles 385 yards


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("half marathon", 21097.5),
        ("Half-Marathon", 21097.5),
        ("10-km", 10000),
        ("10k", 10000),
        ("5 km", 5000),
        ("800m", 800),
    ],
)
def test_distances_are_read_as_people_type_them(text: str, metres: float) -> None:
    assert units.parse_distance(text) == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    [
        "10",
        "",
        "km",
        "ten km",
        "10 kg",
        "1e3 km",
        "0x10 km",
        "1_0 km",
        "nan km",
        "-",
        "-5 km",
        "5 -km",
        "\N{MINUS SIGN}5 km",
    ],
)
def test_what_is_no_distance_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="a distance with its unit"):
        units.parse_distance(text)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1:75:00", "minutes and seconds below 60"),
        ("44:75", "minutes and seconds below 60"),
        ("5:10/km", "not the pace"),
        ("soon", "a time such as"),
        ("1:2", "a time such as"),
        ("", "a time such as"),
    ],
)
def test_what_is_no_time_is_refused_with_the_reason(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why):
        units.parse_time(text)


@given(st.integers(0, 359_999))
def test_a_time_said_is_the_time_read(seconds: int) -> None:
    assert units.parse_time(units.say_time(seconds)) == seconds


@given(st.floats(120, 900, allow_nan=False))
def test_a_pace_is_the_same_pace_in_both_units(pace: float) -> None:
    for system in ("km", "mi"):
        clock, _, unit = units.say_pace(pace, system).partition("/")
        said = units.parse_time(clock) * 1000 / units.unit_m(system)
        assert unit == system
        assert said == pytest.approx(pace, abs=0.51)


@given(st.floats(0, 60_000))
def test_a_run_prints_to_half_a_kilometre_or_half_a_mile(distance_m: float) -> None:
    systems: tuple[tuple[units.System, float], ...] = (("km", 1000.0), ("mi", units.MILE_M))
    for system, unit_m in systems:
        number, _, word = units.say_run(distance_m, system).partition(" ")
        assert word == system
        assert float(number) * 2 == int(float(number) * 2)
        assert float(number) * unit_m == pytest.approx(distance_m, abs=unit_m / 4 + 1e-6)


def test_every_mark_becomes_words_in_both_units() -> None:
    text = " ".join(
        [
            units.run_mark(16093.44),
            units.length_mark(420),
            units.place_mark(17300),
            units.height_mark(31.4),
            units.climb_rate_mark(3.8),
            units.pace_mark(300),
            units.pace_band_mark(300, 315),
        ]
    )
    assert units.say_in(text, "km") == "16 km 420 m km 17.3 31 m 3.8 m a kilometre 5:00/km 5:00–5:15/km"
    assert units.say_in(text, "mi") == "10 mi 460 yd mile 10.7 103 ft 20 ft a mile 8:03/mi 8:03–8:27/mi"


def test_braces_that_a_coach_types_stay() -> None:
    assert units.say_in("bring {water}", "km") == "bring {water}"


def test_dates_are_english_on_every_machine() -> None:
    assert units.say_date(dt.date(2027, 3, 28), year=True) == "Sunday 28 March 2027"


def test_a_count_takes_its_noun_in_the_right_number() -> None:
    assert [units.count_of(n, "breach", "breaches") for n in (0, 1, 2)] == [
        "0 breaches",
        "1 breach",
        "2 breaches",
    ]
