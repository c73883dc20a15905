"""The first fresh result of a runner who trained by effort. Steps: common coaching practice, no source."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from planbuilder.runner import Form, find_form, predict
from planbuilder.runner.new_results import FirstResult, RunResult, first_result, new_form, with_factor
from planbuilder.settings.models import Result, RunnerSettings
from tests.runner.samples import LIMITS, runner

FIRST = dt.date(2027, 3, 1)
WEEKLY_M = 44_000.0
OLD_S = 46.5 * 60
NOBODY = runner()
OLD = runner(results=[{"distance": "10 km", "time": "46:30", "date": dt.date(2026, 8, 1)}])
FRESH = runner(results=[{"distance": "10 km", "time": "46:30", "date": dt.date(2027, 2, 14)}])


def ran(
    seconds: float, day: int = 28, *, explained: bool = False, confirmed: bool = False, **more: Any
) -> RunResult:
    minutes, rest = divmod(round(seconds), 60)
    said = {
        "distance": "10 km",
        "time": f"{minutes}:{rest:02d}",
        "date": FIRST + dt.timedelta(days=day),
        **more,
    }
    return RunResult(f"edit/result/{day}", Result.model_validate(said), explained, confirmed)


def form_of(who: RunnerSettings, *since: Result) -> Form:
    results = (*who.results, *since)
    return find_form(who.model_copy(update={"results": results}), first_day=FIRST, race_distance_m=21_097.5,
                     courses={}, limits=LIMITS)  # fmt: skip


def first(who: RunnerSettings, *runs: RunResult) -> FirstResult | None:
    return first_result(form_of(who), runs, form_with=lambda one: form_of(who, one),
                        weekly_distance_m=WEEKLY_M, courses={}, limits=LIMITS)  # fmt: skip


def ten_km_s(found: FirstResult) -> float:
    form = with_factor(found.form, found.time_factor)
    predicted = predict(form, distance_m=10_000.0, weekly_distance_m=WEEKLY_M, limits=LIMITS)
    assert predicted is not None
    return predicted.time_s


def test_without_any_result_before_the_new_one_is_taken_as_it_was_run() -> None:
    found = first(NOBODY, ran(44 * 60))
    assert found is not None
    assert not found.form.by_effort
    assert ten_km_s(found) == pytest.approx(44 * 60, rel=1e-6)
    assert found.words == "Your paces now come from your 10 km in 44:00, corrected for its course and weather"
    assert not found.held


@pytest.mark.parametrize(
    ("share", "confirmed", "held_at"),
    [
        (1.06, False, 1.06),
        (1.02, False, 1.02),
        (0.993, False, 0.993),
        (0.98, False, 0.99),
        (0.98, True, 0.98),
        (0.96, False, 0.98),
        (0.88, True, 0.98),
    ],
)
def test_against_an_old_result_slower_counts_at_once_and_quicker_no_more_than_any_result_may(
    share: float, confirmed: bool, held_at: float
) -> None:
    """Within 1 % and slower: as it is. Up to 3 % quicker: half, or all once confirmed. More: 2 %."""
    found = first(OLD, ran(OLD_S * share, confirmed=confirmed))
    assert found is not None
    assert ten_km_s(found) == pytest.approx(OLD_S * held_at, rel=5e-4)
    assert bool(found.held) == (held_at > share)


def test_the_course_of_the_result_is_taken_out_of_it_as_of_any_other() -> None:
    flat, hilly = first(NOBODY, ran(44 * 60)), first(NOBODY, ran(44 * 60, course="hilly", climb="150 m"))
    assert flat is not None
    assert hilly is not None
    assert ten_km_s(hilly) < ten_km_s(flat)


@pytest.mark.parametrize(
    "run",
    [
        ran(44 * 60, explained=True),
        ran(44 * 60, effort="training"),
        ran(44 * 60, course="unknown.gpx"),
        ran(44 * 60, temperature="39 C", humidity="80%"),
        ran(20 * 60),
    ],
    ids=["a bad day with a reason", "a training run", "unknown ground", "great heat", "a slip of the pen"],
)
@pytest.mark.parametrize("who", [NOBODY, OLD], ids=["no result", "an old one"])
def test_a_result_that_says_nothing_of_form_sets_no_paces(who: RunnerSettings, run: RunResult) -> None:
    assert first(who, run) is None
    found = first(who, run, ran(46 * 60, 30))
    assert found is not None
    assert found.run.line == "edit/result/30"


def test_who_has_a_fresh_result_keeps_the_paces_of_it() -> None:
    assert first(FRESH, ran(44 * 60)) is None


def test_later_results_move_the_paces_that_the_first_one_gave() -> None:
    runs = (ran(46.5 * 60, 20), ran(44 * 60, 50), ran(43.9 * 60, 55))
    found = first(NOBODY, *runs)
    assert found is not None
    after = new_form(
        form_of(NOBODY), runs, weekly_distance_m=WEEKLY_M, courses={}, limits=LIMITS, first=found
    )
    assert after.time_factor == pytest.approx(0.98, abs=1e-6)
    assert after.lines == ("edit/result/20", "edit/result/50", "edit/result/55")


def test_a_held_back_result_is_an_upgrade_after_which_the_next_one_waits() -> None:
    runs = (ran(OLD_S * 0.9, 20), ran(OLD_S * 0.9, 30))
    found = first(OLD, *runs)
    assert found is not None
    after = new_form(form_of(OLD), runs, weekly_distance_m=WEEKLY_M, courses={}, limits=LIMITS, first=found)
    assert after.time_factor == found.time_factor
