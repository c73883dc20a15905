"""What a race during the block says about form. The steps are common coaching practice, no source."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from planbuilder.runner import find_form, predict
from planbuilder.runner.new_results import NewForm, RunResult, new_form, with_factor
from planbuilder.settings.limits import default_limits
from planbuilder.settings.models import Result, RunnerSettings

LIMITS = default_limits()
FIRST = dt.date(2027, 3, 1)
WEEKLY_M = 44_000.0
RUNNER = RunnerSettings.model_validate(
    {"name": "Ines A", "results": [{"distance": "10 km", "time": "46:30", "date": dt.date(2027, 2, 14)}]}
)
FORM = find_form(RUNNER, first_day=FIRST, race_distance_m=21_097.5, courses={}, limits=LIMITS)


def ran(
    seconds: float, day: int = 40, *, explained: bool = False, confirmed: bool = False, **more: Any
) -> RunResult:
    minutes, rest = divmod(round(seconds), 60)
    result = Result.model_validate(
        {"distance": "10 km", "time": f"{minutes}:{rest:02d}", "date": FIRST + dt.timedelta(days=day), **more}
    )
    return RunResult(f"log/{day}", result, explained, confirmed)


def after(*results: RunResult) -> NewForm:
    return new_form(FORM, results, weekly_distance_m=WEEKLY_M, courses={}, limits=LIMITS)


S = 46.5 * 60


@pytest.mark.parametrize(
    ("share", "factor"),
    [(1.0, 1.0), (1.008, 1.0), (0.993, 1.0), (1.02, 1.0), (1.05, 1.05), (0.98, 0.99), (0.88, 0.98)],
)
def test_a_result_moves_predicted_times_by_its_step(share: float, factor: float) -> None:
    """Within 1 %: nothing. Up to 3 % slower: nothing; more: at once. Up to 3 % quicker: half; more: 2 %."""
    assert after(ran(S * share)).time_factor == pytest.approx(factor, abs=0.001)


def test_a_bad_day_with_a_reason_changes_nothing() -> None:
    found = after(ran(S * 1.06, explained=True))
    assert found.time_factor == 1.0
    assert found.rest_from is None


def test_a_clearly_slower_result_is_followed_by_easy_days() -> None:
    assert after(ran(S * 1.06, 40)).rest_from == FIRST + dt.timedelta(days=41)


def test_a_confirmed_gain_counts_in_full() -> None:
    assert after(ran(S * 0.98, confirmed=True)).time_factor == pytest.approx(0.98, abs=0.001)


def test_paces_get_quicker_once_in_three_weeks_and_slower_at_once() -> None:
    first, soon, later = ran(S * 0.95, 20), ran(S * 0.90, 30), ran(S * 0.90, 45)
    assert after(first, soon).time_factor == pytest.approx(0.98)
    assert after(first, later).time_factor == pytest.approx(0.98**2)
    assert after(first, ran(S * 1.05, 30)).time_factor == pytest.approx(1.05, abs=0.002)


def test_a_hilly_course_is_corrected_before_it_is_judged() -> None:
    """The same clock time over 150 m of climbing is the better run."""
    flat, hilly = after(ran(S)), after(ran(S, course="hilly", climb="150 m"))
    assert flat.time_factor == 1.0
    assert hilly.time_factor < 1.0


def test_a_training_run_is_no_result() -> None:
    assert after(ran(S * 1.2, effort="training")) == NewForm()


def test_a_factor_scales_predictions_and_leaves_what_was_run() -> None:
    slower = with_factor(FORM, 1.03)
    one = predict(FORM, distance_m=21_097.5, weekly_distance_m=WEEKLY_M, limits=LIMITS)
    two = predict(slower, distance_m=21_097.5, weekly_distance_m=WEEKLY_M, limits=LIMITS)
    assert one is not None
    assert two is not None
    assert two.time_s / one.time_s == pytest.approx(1.03, rel=0.01)
    assert [result.time_s for result in slower.results] == [result.time_s for result in FORM.results]
    assert with_factor(FORM, 1.0) is FORM
