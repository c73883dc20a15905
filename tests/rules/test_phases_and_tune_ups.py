"""Weeks counted back from race day, and tune-up races whose effort fits their date."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

import pytest

from planbuilder.rules.phases import frames, lengths, whole_weeks
from planbuilder.rules.tune_ups import days_after, no_hard_days, plan_tune_ups
from planbuilder.schedule import rule_context
from planbuilder.settings.limits import default_limits
from tests.schedule.builders import RACE_DAY, request_of

LIMITS = default_limits()
TAPER = {5000.0: (7.0, 10.0), 10_000.0: (7.0, 10.0), 21_097.5: (10.0, 14.0), 42_195.0: (14.0, 21.0)}

# Common practice, no source: weeks of base, build, specific and taper as coaches lay them out.
ROWS = [
    (10_000.0, 6, (1, 2, 2, 1)),
    (10_000.0, 12, (4, 3, 4, 1)),
    (10_000.0, 24, (10, 7, 6, 1)),
    (21_097.5, 8, (1, 2, 3, 2)),
    (21_097.5, 12, (3, 3, 4, 2)),
    (21_097.5, 13, (4, 3, 4, 2)),
    (21_097.5, 9, (1, 3, 3, 2)),
    (42_195.0, 16, (4, 4, 5, 3)),
    (42_195.0, 18, (5, 5, 5, 3)),
    (42_195.0, 26, (11, 6, 6, 3)),
    (21_097.5, 4, (0, 0, 2, 2)),
    (21_097.5, 1, (0, 0, 0, 1)),
]


@pytest.mark.parametrize(("distance_m", "weeks", "expected"), ROWS)
def test_phases_protect_the_end_and_an_odd_week_goes_to_the_beginning(
    distance_m: float, weeks: int, expected: tuple[int, ...]
) -> None:
    found = lengths(
        weeks, race_distance_m=distance_m, race_date=RACE_DAY, limits=LIMITS, taper_days=TAPER[distance_m]
    )
    assert found == expected
    assert sum(found) == weeks


@pytest.mark.parametrize("weekday", range(7))
@pytest.mark.parametrize("distance_m", TAPER)
def test_the_taper_has_the_whole_weeks_nearest_to_its_days_whatever_the_weekday(
    distance_m: float, weekday: int
) -> None:
    race = dt.date(2027, 5, 10) + dt.timedelta(days=weekday)
    low, high = TAPER[distance_m]
    weeks = lengths(16, race_distance_m=distance_m, race_date=race, limits=LIMITS, taper_days=(low, high))[3]
    days = 7 * (weeks - 1) + weekday + 1
    others = [7 * (count - 1) + weekday + 1 for count in (1, 2, 3)]
    assert _miss(days, low, high) == min(_miss(other, low, high) for other in others)


def _miss(days: float, low: float, high: float) -> float:
    """Two days more are taken from the week before, where that week is light already."""
    return max(low - days - (2 if days <= 10 else 0), days - high, 0)


def test_weeks_run_monday_to_sunday_and_the_last_one_ends_on_race_day() -> None:
    first = dt.date(2027, 2, 25)  # a Thursday
    found = frames(first, RACE_DAY, race_distance_m=21_097.5, limits=LIMITS, taper_days=(10, 14))
    assert found[0].stub
    assert found[0].first_day == first
    assert found[-1].last_day == RACE_DAY
    assert all(frame.first_day.weekday() == 0 for frame in found[1:])
    assert all((later.first_day - earlier.last_day).days == 1 for earlier, later in pairwise(found))
    assert whole_weeks(first, RACE_DAY) == len(found) - 1


def test_a_clock_change_inside_the_block_leaves_seven_dates_in_every_week() -> None:
    for frame in frames(
        dt.date(2027, 3, 1), dt.date(2027, 5, 2), race_distance_m=10_000, limits=LIMITS, taper_days=(7, 10)
    )[:-1]:
        assert len(set(frame.days)) == 7


# Common practice, no source: (goal, tune-up, days before, how it is run)
EFFORTS = [
    ("half marathon", "10 km", 28, "all-out"),
    ("half marathon", "10 km", 21, "all-out"),
    ("half marathon", "10 km", 20, "goal effort"),
    ("half marathon", "10 km", 13, "easy"),
    ("half marathon", "5 km", 14, "all-out"),
    ("half marathon", "half marathon", 30, "goal effort"),
    ("half marathon", "half marathon", 21, "easy"),
    ("marathon", "half marathon", 28, "all-out"),
    ("marathon", "half marathon", 24, "goal effort"),
    ("marathon", "half marathon", 20, "easy"),
    ("marathon", "10 km", 35, "all-out"),
    ("10 km", "5 km", 14, "all-out"),
    ("10 km", "5 km", 8, "goal effort"),
    ("5 km", "3 km", 9, "goal effort"),
]


def _context(goal: str, races: list[dict[str, Any]], **runner: Any) -> Any:
    return rule_context(
        request_of(
            distance=goal,
            weeks=16,
            weekly_distance="70 km",
            longest_run="28 km",
            training={"tune_ups": races},
            **runner,
        )
    )


def _race(distance: str, days: int, **more: Any) -> dict[str, Any]:
    return {"name": "Quarry", "date": RACE_DAY - dt.timedelta(days=days), "distance": distance, **more}


@pytest.mark.parametrize(("goal", "distance", "days", "effort"), EFFORTS)
def test_the_effort_of_a_tune_up_fits_its_date_and_an_entered_one_is_never_refused(
    goal: str, distance: str, days: int, effort: str
) -> None:
    plans = plan_tune_ups(_context(goal, [_race(distance, days)]))
    assert [plan.effort for plan in plans] == [effort]
    assert str(days) in plans[0].why


def test_a_second_tune_up_within_a_fortnight_and_a_fourth_one_are_run_easily() -> None:
    close = plan_tune_ups(_context("half marathon", [_race("10 km", 35), _race("10 km", 28)]))
    assert [plan.effort for plan in close] == ["all-out", "easy"]
    many = [_race("5 km", days) for days in (70, 56, 42, 28)]
    assert [plan.effort for plan in plan_tune_ups(_context("half marathon", many))][-1] == "easy"


@pytest.mark.parametrize(
    ("distance", "course", "runner", "days"),
    [
        ("5 km", "flat", {}, 2),
        ("10 km", "flat", {}, 3),
        ("10 mi", "flat", {}, 5),
        ("half marathon", "flat", {}, 5),
        ("half marathon", "hilly", {}, 7),
        ("half marathon", "flat", {"age": 54}, 7),
    ],
)
def test_days_without_hard_running_after_a_tune_up_grow_with_its_distance(
    distance: str, course: str, runner: dict[str, Any], days: int
) -> None:
    context = _context("marathon", [_race(distance, 42, course=course)], **runner)
    plans = plan_tune_ups(context)
    assert days_after(plans[0], context) == days
    race = plans[0].race.date
    blocked = no_hard_days(context, plans)
    assert race + dt.timedelta(days=days) in blocked
    assert race + dt.timedelta(days=days + 1) not in blocked
    assert all(race - dt.timedelta(days=before) in blocked for before in range(1, 5))


def test_the_last_days_before_the_race_are_free_of_hard_running() -> None:
    blocked = no_hard_days(_context("half marathon", []), ())
    assert sorted((RACE_DAY - day).days for day in blocked) == [1, 2, 3]
    assert sorted((RACE_DAY - day).days for day in no_hard_days(_context("5 km", []), ())) == [1, 2]
