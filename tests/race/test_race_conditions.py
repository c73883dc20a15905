"""Conditions typed in one line, and what heat takes from whom."""

from __future__ import annotations

from itertools import pairwise

import pytest

from planbuilder.race import parse_conditions
from planbuilder.race.conditions import read_day
from planbuilder.runner import heat_scale
from planbuilder.units import MARATHON_M
from tests.race.ground import LIMITS


@pytest.mark.parametrize(
    ("text", "temperature", "humidity", "altitude", "head"),
    [
        ("24C 70%", 24.0, 0.7, None, None),
        ("75 F, 40 %", 43 / 1.8, 0.4, None, None),
        ("-2°C", -2.0, None, None, None),
        ("24C 70% 1500 m", 24.0, 0.7, 1500.0, None),
        ("5000 ft", None, None, 1524.0, None),
        ("18C 5 m/s head wind", 18.0, None, None, 5.0),
        ("18C tail wind 18 km/h", 18.0, None, None, -5.0),
        ("10 mph", None, None, None, 4.4704),
    ],
)
def test_a_line_of_conditions_is_read_in_any_usual_unit(
    text: str, temperature: float | None, humidity: float | None, altitude: float | None, head: float | None
) -> None:
    day = parse_conditions(text)
    assert day.temperature_c == (None if temperature is None else pytest.approx(temperature, abs=1e-6))
    assert day.humidity == (None if humidity is None else pytest.approx(humidity, abs=1e-9))
    assert day.altitude_m == (None if altitude is None else pytest.approx(altitude, abs=1e-6))
    assert [wind.head_mps for wind in day.wind] == ([] if head is None else [pytest.approx(head, abs=1e-6)])


@pytest.mark.parametrize("text", ["", "warm", "24", "24C and sunny", "70% 24C 12 bananas"])
def test_a_line_that_says_something_else_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ValueError, match=r'conditions such as "24C 70%", .*, not '):
        parse_conditions(text)


def test_the_same_thing_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="conditions with one temperature, not two as in '24C 26C'"):
        parse_conditions("24C 26C")


@pytest.mark.parametrize(
    ("text", "must"),
    [
        ("60C", "a temperature from -40 C to 55 C, not '60C'"),
        ("20C 200%", "a share from 0% to 100%, not '200%'"),
        ("20000 m", "a height from -500 m to 9,000 m, not '20000 m'"),
        ("90 m/s head wind", "a speed below 200 km/h, not '90 m/s'"),
    ],
)
def test_a_value_that_no_race_has_is_refused_in_one_sentence(text: str, must: str) -> None:
    with pytest.raises(ValueError, match=f"^{must}$"):
        parse_conditions(text)


def test_the_figure_of_the_air_never_rounds_across_a_limit() -> None:
    # 26 °C and 70 %: 27.9 °C, below the 28 from which the advice is not to race.
    day = read_day(
        conditions=parse_conditions("26C 70%"), distance_m=MARATHON_M, cool_time_s=12000.0, limits=LIMITS
    )
    assert day.heat == "no goal"
    assert "about 27.9 °C" in day.notes[-1].text


def test_heat_takes_half_from_short_races_and_double_from_very_long_ones() -> None:
    # Common practice, our choice within it; the base is Ely et al. 2007 for leading marathoners.
    assert heat_scale(distance_m=10000.0, time_s=3000.0, limits=LIMITS) == pytest.approx(0.5, abs=1e-9)
    assert heat_scale(distance_m=MARATHON_M, time_s=8000.0, limits=LIMITS) == pytest.approx(1.0, abs=1e-9)
    assert heat_scale(distance_m=MARATHON_M, time_s=5 * 3600.0, limits=LIMITS) == pytest.approx(2.0, abs=1e-9)


def test_a_leading_marathoner_slows_down_as_the_records_did() -> None:
    # Ely et al. 2007: 20.1-25 °C against 5.1-10 °C, men +2.75 %.
    hot = parse_conditions("22.9C 52%")  # about 22.5 °C wet-bulb globe temperature
    day = read_day(conditions=hot, distance_m=MARATHON_M, cool_time_s=7800.0, limits=LIMITS)
    assert day.wbgt_c == pytest.approx(22.55, abs=0.3)
    assert day.heat_share == pytest.approx(0.0275, abs=0.002)
    assert day.heat == "warm"


def test_heat_never_speeds_anyone_up_and_grows_with_temperature() -> None:
    shares = []
    for temperature in range(0, 40):
        conditions = parse_conditions(f"{temperature}C 50%")
        day = read_day(conditions=conditions, distance_m=MARATHON_M, cool_time_s=12000.0, limits=LIMITS)
        if day.has_clock:
            shares.append(day.heat_share)
    assert shares[0] == 0
    assert all(later >= earlier for earlier, later in pairwise(shares))


def test_missing_humidity_is_assumed_and_said() -> None:
    day = read_day(
        conditions=parse_conditions("24C"), distance_m=MARATHON_M, cool_time_s=12000.0, limits=LIMITS
    )
    assert [note.rule for note in day.notes if note.kind == "assumed"] == ["race.assumed_humidity"]
