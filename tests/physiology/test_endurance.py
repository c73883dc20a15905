"""Daniels & Gilbert 1979 against its worked example, its book and itself."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.physiology.endurance import (
    endurance_index,
    equivalent_time_s,
    oxygen_cost_ml_per_kg_min,
    sustainable_share,
    sustainable_speed_mps,
)
from tests.published.reading import rows


def test_the_worked_example_of_a_ten_kilometre_race_in_forty_minutes() -> None:
    """Second-hand: 47.4645, 0.9137614442697204 and 51.9440826680247."""
    assert oxygen_cost_ml_per_kg_min(250.0) == pytest.approx(47.4645, abs=1e-6)
    assert sustainable_share(2400.0) == pytest.approx(0.9137614442697204, abs=1e-12)
    assert endurance_index(distance_m=10_000, time_s=2400) == pytest.approx(51.9440826680247, abs=1e-10)


def test_the_index_of_races_from_the_mile_to_the_marathon() -> None:
    for row in rows("endurance_index"):
        found = endurance_index(distance_m=row["distance_m"], time_s=row["time_s"])
        assert found == pytest.approx(row["index"], abs=1e-4), row


def test_the_share_held_falls_as_published_over_the_whole_range() -> None:
    for row in rows("sustainable_share"):
        assert sustainable_share(row["minutes"] * 60) == pytest.approx(row["share"], abs=0.6e-5), row


def test_the_whole_uptake_is_held_for_eleven_minutes() -> None:
    """Computed apart from this code: the share is one at 11.0304 min."""
    assert sustainable_share(11.0304 * 60) == pytest.approx(1.0, abs=1e-5)


def test_equivalent_times_solve_the_equation_to_the_second() -> None:
    for row in rows("equivalent_times"):
        index = row.pop("index")
        for distance_m, time_s in row.items():
            found = equivalent_time_s(index, distance_m=float(distance_m))
            assert found == pytest.approx(time_s, abs=1.0), (index, distance_m)


def test_equivalent_times_lie_within_ten_seconds_of_the_book() -> None:
    for row in rows("equivalent_times_book"):
        found = equivalent_time_s(50.0, distance_m=row["distance_m"])
        assert found == pytest.approx(row["time_s"], abs=10.0), row


@given(index=st.floats(25, 85), distance_m=st.sampled_from([1500.0, 5000.0, 10_000.0, 21_097.5, 42_195.0]))
def test_a_time_gives_its_index_and_the_index_gives_the_time(index: float, distance_m: float) -> None:
    time_s = equivalent_time_s(index, distance_m=distance_m)
    again = endurance_index(distance_m=distance_m, time_s=time_s)
    assert equivalent_time_s(again, distance_m=distance_m) == pytest.approx(time_s, abs=0.05)


@given(index=st.floats(20, 84))
def test_a_higher_index_is_faster_everywhere(index: float) -> None:
    for distance_m in (1500.0, 10_000.0, 42_195.0):
        slower_s = equivalent_time_s(index, distance_m=distance_m)
        assert equivalent_time_s(index + 1, distance_m=distance_m) < slower_s
    assert sustainable_speed_mps(index + 1, 3600.0) > sustainable_speed_mps(index, 3600.0)


@given(index=st.floats(20, 85), time_s=st.floats(180, 30_000))
def test_speed_is_the_inverse_of_the_oxygen_cost(index: float, time_s: float) -> None:
    speed = sustainable_speed_mps(index, time_s) * 60
    assert oxygen_cost_ml_per_kg_min(speed) == pytest.approx(index * sustainable_share(time_s), rel=1e-9)


def test_what_lies_outside_is_refused_with_value_and_range() -> None:
    with pytest.raises(ValueError, match=r"race time must be 180 to 36000 .* not 60"):
        endurance_index(distance_m=400.0, time_s=60.0)
    with pytest.raises(ValueError, match=r"running speed must be 50 to 500 .* not 600"):
        oxygen_cost_ml_per_kg_min(600.0)
    with pytest.raises(ValueError, match=r"endurance index must be 10 to 90 .* not 95"):
        sustainable_speed_mps(95.0, 3600.0)
    with pytest.raises(ValueError, match=r"distance at index 50 must be .* not 100"):
        equivalent_time_s(50.0, distance_m=100.0)
