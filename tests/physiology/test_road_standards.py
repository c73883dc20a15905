"""Road standards against the published tables (CC0 1.0, 2025, AlanLyttonJones/Age-Grade-Tables)."""

from __future__ import annotations

import pytest

from planbuilder.physiology.endurance import endurance_index
from planbuilder.physiology.road_standards import Standards, age_share, age_standard_s, open_standard_s
from planbuilder.settings.limits import default_limits
from planbuilder.units import HALF_MARATHON_M, MARATHON_M

HALF, WHOLE = HALF_MARATHON_M, MARATHON_M


@pytest.mark.parametrize(
    ("standards", "age", "distance_m", "seconds"),
    [
        *(("men", 40, 10_000.0, 1644), ("men", 40, WHOLE, 7395), ("men", 50, 5000.0, 876)),
        *(("men", 50, 10_000.0, 1783), ("men", 50, HALF, 3895), ("men", 50, WHOLE, 8072)),
        *(("men", 60, 10_000.0, 1947), ("men", 60, HALF, 4270), ("men", 60, WHOLE, 8885)),
        *(("men", 70, 10_000.0, 2145), ("men", 70, WHOLE, 9880), ("men", 80, 10_000.0, 2514)),
        *(("women", 40, 10_000.0, 1794), ("women", 40, WHOLE, 8054), ("women", 45, HALF, 4085)),
        *(("women", 50, 5000.0, 971), ("women", 50, 10_000.0, 1956), ("women", 50, HALF, 4309)),
        *(("women", 50, WHOLE, 8664), ("women", 60, 10_000.0, 2205), ("women", 60, HALF, 4887)),
        *(("women", 60, WHOLE, 9788), ("women", 70, 10_000.0, 2526), ("women", 70, WHOLE, 11366)),
    ],
)
def test_open_time_and_factor_make_the_tabled_standard(
    standards: Standards, age: int, distance_m: float, seconds: int
) -> None:
    """The tables print factors and, in another sheet, standards to the second: one must give the other."""
    found_s = age_standard_s(standards, age_years=age, distance_m=distance_m)
    assert found_s == pytest.approx(seconds, abs=0.6)  # factors are rounded to four digits


def test_a_result_is_graded_as_computed_from_the_tables() -> None:
    """Computed apart from this code: 74.29 % (from the standard to the second), 68.08 and 70.52 %."""
    assert age_share("men", age_years=50, distance_m=10_000.0, time_s=2400.0) == pytest.approx(
        0.7429, abs=2e-4
    )
    assert age_share("women", age_years=45, distance_m=HALF, time_s=6000.0) == pytest.approx(0.6808, abs=2e-4)
    assert age_share("men", age_years=60, distance_m=WHOLE, time_s=12600.0) == pytest.approx(0.7052, abs=2e-4)


def test_between_distances_the_factor_is_the_one_of_the_table() -> None:
    """6 km, men of 50: the table itself says 0.8804."""
    six_km_s = age_standard_s("men", age_years=50, distance_m=6000.0)
    factor = open_standard_s("men", distance_m=6000.0) / six_km_s
    assert factor == pytest.approx(0.8804, abs=1e-4)


@pytest.mark.parametrize(("age", "distance_m"), [(50, 4999.0), (50, 42196.0), (80, 5000.0)])
def test_distances_without_a_factor_are_refused(age: int, distance_m: float) -> None:
    with pytest.raises(ValueError, match=r"distance.* must be .* \(m\), not"):
        age_standard_s("men", age_years=age, distance_m=distance_m)


def test_ages_without_a_factor_are_refused_and_not_guessed() -> None:
    with pytest.raises(ValueError, match=r"age must be one of 40, 45, 50, 60, 70 \(years\), not 47"):
        age_standard_s("women", age_years=47, distance_m=10_000.0)


def test_no_plan_is_quicker_than_the_standards_and_no_believed_result_either() -> None:
    """The quickest speed of a plan without a result is that of the 5 km standard; the index from which a
    result is not believed, 87, lies above every standard from 5 km to the marathon."""
    fastest = default_limits().number("race.fastest_flat_speed")
    assert fastest == pytest.approx(5000.0 / open_standard_s("men", distance_m=5000.0), abs=0.01)
    for distance_m in (5000.0, 10_000.0, HALF, WHOLE):
        time_s = open_standard_s("men", distance_m=distance_m)
        assert endurance_index(distance_m=distance_m, time_s=time_s) < 87.0
