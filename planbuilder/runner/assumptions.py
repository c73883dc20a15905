"""What stands in for settings a runner left out, and figures that contradict each other."""

from __future__ import annotations

from planbuilder import units
from planbuilder.physiology.heart_rate import usual_maximum_bpm
from planbuilder.runner.volume import level_of, trusted_volume
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.notes import Note


def assumptions(runner: RunnerSettings, limits: Limits) -> tuple[Note, ...]:
    """Notes of kind "assumed", in the order of the settings."""
    return (
        *_volume(runner, limits),
        *_days(runner),
        *_level(runner, limits),
        *_heart_rate(runner, limits),
    )


def _days(runner: RunnerSettings) -> list[Note]:
    if "days" in runner.model_fields_set:
        return []
    *others, last = (day.capitalize() for day in runner.days)
    text = f"Your running days are not given; {', '.join(others)} and {last} stand in."
    return [_assumed("day.available", text)]


def _volume(runner: RunnerSettings, limits: Limits) -> list[Note]:
    volume = trusted_volume(runner, limits)
    weekly, longest = units.run_mark(volume.weekly_distance_m), units.run_mark(volume.longest_run_m)
    notes = []
    if not volume.weekly_given:
        notes.append(_assumed("load.assumed_week", f"Your weekly distance is not given; {weekly} stands in."))
    if not volume.longest_given:
        text = f"Your longest run of the last 30 days is not given; an ordinary run, {longest}, stands in."
        notes.append(_assumed("load.single_run_cap", text))
    if volume.contradiction:
        text = (
            "Your weekly distance, your running days and your longest run do not fit together; until you "
            f"have looked, the lower figures count: {weekly} a week and {longest} as the longest run."
        )
        notes.append(_assumed("runner.volume_weeks", text))
    return notes + _peak_week(runner, limits)


def _peak_week(runner: RunnerSettings, limits: Limits) -> list[Note]:
    last_m = runner.weekly_distance_m[-int(limits.number("runner.volume_weeks")) :]
    if not last_m:
        return []
    mean_m = sum(last_m) / len(last_m)
    if max(last_m) < limits.number("runner.peak_week") * mean_m:
        return []
    text = (
        f"The plan starts from {units.run_mark(mean_m)} a week, the mean of your last {len(last_m)} weeks, "
        f"not from the best of them, {units.run_mark(max(last_m))}."
    )
    return [_assumed("runner.volume_weeks", text)]


def _level(runner: RunnerSettings, limits: Limits) -> list[Note]:
    if runner.level is not None:
        return []
    level = level_of(runner, limits)
    return [_assumed("runner.level_bounds", f"Your level is not given; your running reads as {level}.")]


def _heart_rate(runner: RunnerSettings, limits: Limits) -> list[Note]:
    measured, age = runner.max_heart_rate, runner.age
    if measured is None or age is None or not 18 <= age <= 81:
        return []
    usual = usual_maximum_bpm(age)
    if abs(measured - usual) <= limits.number("runner.heart_rate_doubt"):
        return []
    text = (
        f"Your maximal heart rate of {measured} is far from what is usual at your age, about {usual:.0f}. "
        "People differ, and the measured one counts; please look whether the strap read true."
    )
    return [_assumed("runner.heart_rate_doubt", text)]


def _assumed(rule: str, text: str) -> Note:
    return Note(rule=rule, text=text, kind="assumed")
