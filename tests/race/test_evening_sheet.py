"""The evening before: clock times counted back from this runner's own start."""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest

from planbuilder.race.evening import evening_sheet, own_start
from planbuilder.race.types import TimedLine
from planbuilder.units import HALF_MARATHON_M
from tests.race.ground import LIMITS, course_of, late_climb_half, plan_of, race_of, runner_of


def sheet_of(offset: str | None = None, **race: Any) -> tuple[TimedLine, ...]:
    runner = runner_of() if offset is None else runner_of(start_offset=offset)
    return evening_sheet(
        race=race_of(HALF_MARATHON_M, **race),
        runner=runner,
        conditions=None,
        downhill_start=False,
        limits=LIMITS,
    )


def at(lines: tuple[TimedLine, ...], words: str) -> dt.datetime:
    return next(line.when for line in lines if words in line.words)


def test_times_are_counted_back_from_the_gun_and_come_in_order() -> None:
    lines = sheet_of()
    assert lines[-1].words == "Start"
    assert lines[-1].when.isoformat() == "2027-05-16T09:30:00+01:00"
    assert [line.when for line in lines] == sorted(line.when for line in lines)
    assert at(lines, "Breakfast").time() == dt.time(6, 30)
    assert at(lines, "pen").time() == dt.time(9, 20)
    assert at(lines, "Evening meal").date() == dt.date(2027, 5, 15)
    for words in ("Leave home", "Hand in the bag", "Warm-up"):
        assert at(lines, words) < at(lines, "pen")


def test_a_later_wave_moves_every_line() -> None:
    first, later = sheet_of(), sheet_of("12:30")
    assert len(first) == len(later)
    for one, other in zip(first, later, strict=True):
        assert other.when - one.when == dt.timedelta(minutes=12, seconds=30)


def test_the_night_of_a_clock_change_keeps_the_hours_before_the_start() -> None:
    # In Lisbon clocks go forward on 28 March 2027 at 01:00.
    lines = sheet_of(date="2027-03-28")
    start = lines[-1].when
    assert start.utcoffset() == dt.timedelta(hours=1)
    meal = at(lines, "Evening meal")
    assert meal.utcoffset() == dt.timedelta(0)
    assert start.astimezone(dt.UTC) - meal.astimezone(dt.UTC) == dt.timedelta(hours=14)
    assert meal.time() == dt.time(18, 30)


def test_the_start_is_in_the_zone_of_the_race() -> None:
    start = own_start(race_of(10000.0, timezone="Pacific/Auckland"), runner_of(start_offset="5 min"))
    assert start.isoformat() == "2027-05-16T09:35:00+12:00"


def test_an_evening_start_has_a_last_meal_and_no_lights_out() -> None:
    lines = sheet_of(start_time="19:00")
    assert at(lines, "Last meal").time() == dt.time(16, 0)
    assert not any("Lights out" in line.words for line in lines)


@pytest.mark.parametrize("start_time", ["13:30", "18:30", "21:00"])
def test_before_a_late_start_things_are_laid_out_on_the_evening_before_and_not_at_night(
    start_time: str,
) -> None:
    """In the evening, from 17 to 22 o'clock: common practice, no source."""
    lines = sheet_of(start_time=start_time)
    laid_out = at(lines, "Lay everything out")
    assert laid_out.date() == at(lines, "Start").date() - dt.timedelta(days=1)
    assert 17 <= laid_out.hour < 22
    assert all(line.when.hour >= 6 for line in lines)


def test_the_sheet_belongs_to_the_plan_and_knows_the_downhill_start_and_the_heat() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features)
    assert any("10 slow squats" in line.words for line in plan.evening)
    hot = plan_of(
        course_of([(HALF_MARATHON_M, 0.0)]),
        race=race_of(HALF_MARATHON_M, conditions={"temperature": "24 C", "humidity": "40%"}),
    )
    assert any(
        "Warm-up, 7 minutes" in line.words and "shorter than usual" in line.words for line in hot.evening
    )
    assert any("cap" in item for item in hot.lay_out)


@pytest.mark.parametrize("word", ["number", "shoes", "portions", "race card"])
def test_what_to_lay_out_names_what_is_forgotten(word: str) -> None:
    plan = plan_of(course_of([(HALF_MARATHON_M, 0.0)]))
    assert any(word in item for item in plan.lay_out)


@pytest.mark.parametrize(
    ("limit", "value", "words", "minutes"),
    [
        ("race.evening_lay_out", 60, "Lay everything out", 60 + 480 + 15 + 180),
        ("race.evening_toilet", 60, "Be at the start", 10 + 14 + 10 + 60),
        ("race.evening_breakfast", 150, "Breakfast", 150),
    ],
)
def test_every_minute_of_the_sheet_can_be_set_by_the_coach(
    limit: str, value: float, words: str, minutes: float
) -> None:
    lines = evening_sheet(
        race=race_of(HALF_MARATHON_M),
        runner=runner_of(),
        conditions=None,
        downhill_start=False,
        limits=LIMITS.with_overrides({limit: value}),
    )
    before = lines[-1].when - at(lines, words)
    assert before == dt.timedelta(minutes=minutes)
