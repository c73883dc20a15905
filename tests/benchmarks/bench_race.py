"""How fast race plans are made, against a general-purpose optimiser in the same run; prints ratios.

The yardstick is scipy's SLSQP as one would first write it for this problem: one effort a kilometre split (43
in a marathon), bounds for the ceilings, the total time as an equality, gradients by scipy's own finite
differences (its default, no ``jac``), ``ftol`` 1e-10, begun at the effort of an even clock. The promise is
held against that one. With the exact gradients of objective and constraint the optimiser is about ten times
quicker and 1,000 whole plans (rules, bands, cues, four tables, the evening sheet) take longer than 100 such
solves; that ratio is printed beside the other and nothing is asserted of it.

Measured on a shared two-core machine with one thread for linear algebra: 0.26 by finite differences, 2.7 with
exact gradients. More threads make the optimiser slower, so the strict figure is that of one thread.

Run: OPENBLAS_NUM_THREADS=1 pytest -m benchmark -s tests/benchmarks/bench_race.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import minimize

from planbuilder.demands.terrain import build_terrain, read_ground, running_sum
from planbuilder.units import MARATHON_M
from tests.race.ground import LIMITS, feature, plan_of, race_of, rolling_marathon, runner_of

pytestmark = pytest.mark.benchmark

PLANS, SOLVES = 1000, 100


def cpu_s(work: Callable[[], object]) -> float:
    """CPU seconds of this thread: the optimiser's helpers that only spin are not held against it."""
    begun = time.thread_time()
    work()
    return time.thread_time() - begun


def test_a_thousand_race_plans_take_less_time_than_a_hundred_solves_of_the_optimiser(
    capsys: pytest.CaptureFixture[str],
) -> None:
    course = rolling_marathon()
    features = tuple(
        feature(course, "climb", 1000.0 * at, 1000.0 * at + 900.0, name=f"climb {at}") for at in (6, 20, 33)
    )
    race, runner = race_of(MARATHON_M), runner_of(goal_time="3:20:00")
    goals = np.linspace(9000.0, 18000.0, PLANS)
    terrain = build_terrain(course=course, features=features, limits=LIMITS, level_speed_mps=3.5)
    edges = np.append(np.arange(0.0, MARATHON_M, 1000.0), MARATHON_M)
    flat_m = np.diff(np.interp(edges, course.at_m, running_sum(terrain.flat_m)))

    def plans() -> None:
        read_ground.cache_clear()
        for goal_s in goals:
            plan = plan_of(
                course,
                features=features,
                flat_s=float(goal_s),
                race=race,
                runner=runner,
                goal_time_s=float(goal_s),
            )
            assert plan.finish_time_s == pytest.approx(float(goal_s), abs=0.1)

    def optimum(goal_s: float, *, exact_gradients: bool) -> None:
        even = float(flat_m.sum()) / goal_s
        total_m = flat_m.sum()
        time: dict[str, object] = {"type": "eq", "fun": lambda e: float(np.sum(flat_m / e)) / goal_s - 1}
        if exact_gradients:
            time["jac"] = lambda e: -flat_m / e**2 / goal_s
        found = minimize(
            lambda e: float(np.sum(flat_m * (e / even) ** 4) / total_m),
            MARATHON_M / goal_s * flat_m / np.diff(edges),  # the effort of an even clock
            jac=(lambda e: 4 * flat_m * e**3 / even**4 / total_m) if exact_gradients else None,
            bounds=[(0.3 * even, 2.0 * even)] * len(flat_m),
            constraints=time,
            method="SLSQP",
            options={"ftol": 1e-10, "maxiter": 500},
        )
        assert found.success, found.message

    def solves(*, exact_gradients: bool) -> None:
        for goal_s in goals[:: PLANS // SOLVES]:
            optimum(float(goal_s), exact_gradients=exact_gradients)

    plan_s = cpu_s(plans)
    solve_s = cpu_s(lambda: solves(exact_gradients=False))
    exact_s = cpu_s(lambda: solves(exact_gradients=True))
    with capsys.disabled():
        print(
            f"\n{PLANS} race plans: {plan_s:.2f} s; {SOLVES} solves by finite differences: {solve_s:.2f} s, "
            f"ratio {plan_s / solve_s:.2f} (at most 1); with exact gradients: {exact_s:.2f} s, "
            f"ratio {plan_s / exact_s:.2f}"
        )
    assert plan_s <= solve_s
