"""The solver against a general-purpose optimiser on the objective it states."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import minimize

from planbuilder.demands.terrain import build_terrain, running_sum
from planbuilder.race.solver import equal_fatigue_time_s, fastest_time_s, solve_speeds
from tests.race.ground import LIMITS, form_of, plan_of, rolling_marathon

Array = NDArray[np.float64]


def slsqp_split_times(flat_m: Array, time_s: float, ceiling_mps: Array) -> Array:
    """Minimise sum(D (e/e0)^4) subject to sum(D/e) = time, e at most its ceiling; one e a split."""
    even = float(flat_m.sum()) / time_s
    found = minimize(
        lambda e: float(np.sum(flat_m * (e / even) ** 4) / flat_m.sum()),
        np.minimum(np.linspace(0.9, 1.1, len(flat_m)) * even, ceiling_mps),
        jac=lambda e: 4 * flat_m * (e / even) ** 3 / even / flat_m.sum(),
        bounds=[(0.3 * even, ceiling) for ceiling in ceiling_mps],
        constraints={
            "type": "eq",
            "fun": lambda e: float(np.sum(flat_m / e)) / time_s - 1,
            "jac": lambda e: -flat_m / e**2 / time_s,
        },
        method="SLSQP",
        options={"ftol": 1e-13, "maxiter": 1000},
    )
    assert found.success, found.message
    times: Array = flat_m / found.x
    return times


def hilly_splits(seed: int) -> Array:
    """Flat-equivalent lengths of 43 splits, metres."""
    chance = np.random.default_rng(seed)
    lengths = np.full(43, 1000.0)
    lengths[-1] = 195.0
    return lengths * chance.uniform(0.9, 1.25, 43)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_without_ceilings_the_split_times_are_those_of_the_optimiser(seed: int) -> None:
    flat_m = hilly_splits(seed)
    ceiling = np.full(43, 9.0)
    ours = flat_m / solve_speeds(flat_m=flat_m, ceiling_mps=ceiling, time_s=12000.0)
    assert ours == pytest.approx(slsqp_split_times(flat_m, 12000.0, ceiling), abs=0.1)
    assert ours.sum() == pytest.approx(12000.0, abs=1e-6)


@pytest.mark.parametrize("seed", [4, 5, 6, 7])
def test_under_ceilings_the_split_times_are_those_of_the_optimiser(seed: int) -> None:
    flat_m = hilly_splits(seed)
    ceiling = np.random.default_rng(seed).uniform(3.2, 4.6, 43)
    time_s = fastest_time_s(flat_m, ceiling) * 1.06
    speeds = solve_speeds(flat_m=flat_m, ceiling_mps=ceiling, time_s=time_s)
    assert 3 < np.sum(np.isclose(speeds, ceiling)) < 43, "some pieces at their ceiling, some below"
    assert flat_m / speeds == pytest.approx(slsqp_split_times(flat_m, time_s, ceiling), abs=0.1)


def test_the_whole_plan_has_the_split_times_of_the_optimiser_also_where_ceilings_bind() -> None:
    course = rolling_marathon()
    limits = LIMITS.with_overrides({"race.comfortable_until": 28000.0 / course.distance_m})
    flat_s = 12000.0
    form = form_of(3.45)
    plan = plan_of(course, flat_s=flat_s, form=form, goal_time_s=11000.0, limits=limits)
    terrain = build_terrain(
        course=course, features=(), limits=limits, level_speed_mps=course.distance_m / flat_s
    )
    edges = [0.0, *(split.to_m for split in plan.splits_km)]
    flat_m = np.diff(np.interp(edges, course.at_m, running_sum(terrain.flat_m)))
    high = form.threshold_high_mps
    assert high is not None
    ceiling = np.where(np.asarray(edges[1:]) <= 28000.0, 1.10 * high, 1.18 * high)
    times = [split.time_s for split in plan.splits_km]
    assert plan.finish_time_s == pytest.approx(11000.0, abs=1e-6)
    assert np.isclose(flat_m[0] / (times[0] or 0.0), ceiling[0]), "the early ceiling binds"
    assert times == pytest.approx(slsqp_split_times(flat_m, 11000.0, ceiling), abs=0.1)


def test_a_time_that_the_ceilings_forbid_is_an_error_here() -> None:
    flat_m = np.full(4, 1000.0)
    with pytest.raises(
        ValueError, match=r"time_s must be at least 1000\.0 s under these ceilings, not 999\.0"
    ):
        solve_speeds(flat_m=flat_m, ceiling_mps=np.full(4, 4.0), time_s=999.0)


def test_the_fastest_time_itself_is_allowed() -> None:
    flat_m = hilly_splits(9)
    ceiling = np.random.default_rng(9).uniform(3.0, 4.0, 43)
    speeds = solve_speeds(flat_m=flat_m, ceiling_mps=ceiling, time_s=fastest_time_s(flat_m, ceiling))
    assert speeds == pytest.approx(ceiling, rel=1e-9)


def test_any_other_way_of_spending_effort_costs_time_for_the_same_fatigue() -> None:
    flat_m = hilly_splits(10)
    for seed in range(20):
        weight = np.random.default_rng(seed).uniform(0.9, 1.1, 43)
        assert equal_fatigue_time_s(flat_m=flat_m, weight=weight, even_time_s=9000.0) > 9000.0
    even = equal_fatigue_time_s(flat_m=flat_m, weight=np.full(43, 1.3), even_time_s=9000.0)
    assert even == pytest.approx(9000.0, abs=1e-6)
