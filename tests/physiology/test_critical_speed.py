"""Critical speed: the line, what is left above it, and the marathon."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.physiology.critical_speed import (
    CriticalSpeed,
    fit_critical_speed,
    marathon_from_critical_speed_s,
    marathon_share_of_critical_speed,
)
from tests.published.reading import rows

LINE = CriticalSpeed(speed_mps=4.5, d_prime_m=200.0)


def test_the_line_through_three_efforts() -> None:
    """400 m in 70 s, 800 m in 155 s, 5000 m in 20 min: least squares computed apart from this code. Smyth &
    Muniz-Pumares 2020 found these three distances to work best."""
    found = fit_critical_speed([(400.0, 70.0), (800.0, 155.0), (5000.0, 1200.0)])
    assert found.d_prime_m == pytest.approx(143.398, abs=1e-3)
    assert found.speed_mps == pytest.approx(4.048987, abs=1e-6)


@given(speed_mps=st.floats(2.5, 6.0), d_prime_m=st.floats(60, 350))
def test_efforts_that_lie_on_a_line_give_the_line_back(speed_mps: float, d_prime_m: float) -> None:
    efforts = [(d_prime_m + speed_mps * time_s, time_s) for time_s in (120.0, 300.0, 720.0, 1500.0)]
    found = fit_critical_speed(efforts)
    assert found.speed_mps == pytest.approx(speed_mps, rel=1e-6)
    assert found.d_prime_m == pytest.approx(d_prime_m, rel=1e-4)
    assert found.time_s(efforts[2][0]) == pytest.approx(720.0, rel=1e-6)


@pytest.mark.parametrize(("distance_m", "time_s"), [(3000.0, 622.2), (5000.0, 1066.7)])
def test_times_on_the_line(distance_m: float, time_s: float) -> None:
    assert LINE.time_s(distance_m) == pytest.approx(time_s, abs=0.05)


@pytest.mark.parametrize(("speed_mps", "limit_s"), [(4.6, 2000), (4.75, 800), (5.0, 400)])
def test_the_distance_above_is_spent_after_the_limit_time(speed_mps: float, limit_s: float) -> None:
    """t_lim = D'/(v - CS). Jones & Vanhatalo 2017, values computed."""
    left_m = LINE.balance_after_m(200.0, speed_mps=speed_mps, duration_s=limit_s)
    assert left_m == pytest.approx(0.0, abs=1e-9)


def test_repeats_above_critical_speed_run_the_balance_down_and_out() -> None:
    repeat_mps, recovery_mps = 4.5 * 1.07, 4.5 * 0.95
    balance_m = LINE.d_prime_m
    for row in rows("balance_above_critical_speed"):
        balance_m = LINE.balance_after_m(balance_m, speed_mps=repeat_mps, duration_s=1000 / repeat_mps)
        assert balance_m == pytest.approx(row["after_repeat_m"], abs=0.02)
        balance_m = LINE.balance_after_m(balance_m, speed_mps=recovery_mps, duration_s=200 / recovery_mps)
        assert balance_m == pytest.approx(row["after_recovery_m"], abs=0.02)
    fourth_m = LINE.balance_after_m(balance_m, speed_mps=repeat_mps, duration_s=1000 / repeat_mps)
    assert fourth_m < 0


@given(balance_m=st.floats(0, 200), duration_s=st.floats(0, 5000), speed_mps=st.floats(0, 4.5))
def test_rest_never_gives_back_more_than_there_was(
    balance_m: float, duration_s: float, speed_mps: float
) -> None:
    after_m = LINE.balance_after_m(balance_m, speed_mps=speed_mps, duration_s=duration_s)
    assert balance_m - 1e-9 <= after_m <= 200.0 + 1e-9


@pytest.mark.parametrize(("minutes", "share"), [(150, 0.930), (255, 0.8595), (360, 0.789)])
def test_the_marathon_share_of_critical_speed(minutes: float, share: float) -> None:
    """Smyth & Muniz-Pumares 2020 (abstract): 93.0 % at 150 min, 78.9 % at 360 min; a line in between."""
    assert marathon_share_of_critical_speed(minutes * 60) == pytest.approx(share, abs=0.5e-3)


@given(finish_s=st.floats(9001, 21_599))
def test_the_marathon_from_critical_speed_is_the_one_with_the_published_share(finish_s: float) -> None:
    critical_mps = 42_195 / finish_s / marathon_share_of_critical_speed(finish_s)
    assert marathon_from_critical_speed_s(critical_mps) == pytest.approx(finish_s, rel=1e-9)


def test_the_pooled_runner_of_the_survey_comes_out_near_the_pooled_share() -> None:
    """Mean critical speed 3.74 m/s, mean marathon at 84.8 % (standard deviation 13.6 points); 5 points."""
    share = 42_195 / marathon_from_critical_speed_s(3.74) / 3.74
    assert share == pytest.approx(0.848, abs=0.05)


def test_what_makes_no_line_is_refused_with_value_and_range() -> None:
    with pytest.raises(ValueError, match=r"number of efforts must be at least 3 .* not 2"):
        fit_critical_speed([(400.0, 70.0), (800.0, 155.0)])
    with pytest.raises(ValueError, match=r"time of an effort must be 60 to 1800 .* not 2400"):
        fit_critical_speed([(400.0, 70.0), (800.0, 155.0), (10_000.0, 2400.0)])
    with pytest.raises(ValueError, match=r"spread of the efforts must be at least 60 .* not 10"):
        fit_critical_speed([(400.0, 70.0), (400.0, 75.0), (400.0, 80.0)])
    with pytest.raises(ValueError, match=r"distance above critical speed must be at least 0 .* not -"):
        fit_critical_speed([(400.0, 120.0), (800.0, 200.0), (3000.0, 640.0)])
    with pytest.raises(ValueError, match=r"time of the effort must be 60 to 1800 .* not 2"):
        LINE.time_s(10_000.0)
    with pytest.raises(ValueError, match=r"marathon time must be 9000 to 21600 .* not 7200"):
        marathon_share_of_critical_speed(7200.0)
    for too_far_mps in (1.0, 6.0):
        with pytest.raises(ValueError, match=r"marathon time must be|critical speed too low must be"):
            marathon_from_critical_speed_s(too_far_mps)
