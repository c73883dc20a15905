"""What a runner has been running: weekly distance, longest run, level."""

from __future__ import annotations

from dataclasses import dataclass

from planbuilder.runner.types import Level
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings


@dataclass(frozen=True, slots=True)
class Volume:
    """The figures the plan may start from; where two contradict each other, the lower one."""

    weekly_distance_m: float  # mean of the last weeks, or what stands in for it
    longest_run_m: float  # of the last 30 days, or what stands in for it
    weekly_given: bool
    longest_given: bool
    contradiction: bool  # the average run would be longer than the longest, or the longest than the week


def trusted_volume(runner: RunnerSettings, limits: Limits) -> Volume:
    """Weekly distance and longest run, each held down by the other until the runner has answered.

    A missing weekly distance is the assumed week, a missing longest run an ordinary run: the week over the
    running days. Days that nobody wrote down contradict nothing.
    """
    weekly_m = _mean_of_last(runner, int(limits.number("runner.volume_weeks")))
    assumed_m = weekly_m if weekly_m is not None else limits.number("load.assumed_week")
    if runner.longest_run_m is None:
        return Volume(assumed_m, assumed_m / max(len(runner.days), 1), weekly_m is not None, False, False)
    if weekly_m is None:
        return Volume(assumed_m, min(runner.longest_run_m, assumed_m), False, True, False)
    most_runs = max(len(runner.days), 1) if "days" in runner.model_fields_set else 7
    trusted_weekly_m = min(weekly_m, runner.longest_run_m * most_runs)
    trusted_longest_m = min(runner.longest_run_m, weekly_m)
    contradiction = trusted_weekly_m < weekly_m or trusted_longest_m < runner.longest_run_m
    return Volume(trusted_weekly_m, trusted_longest_m, True, True, contradiction)


def level_of(runner: RunnerSettings, limits: Limits) -> Level:
    """The coach's word for the runner, else by months of running and the mean of the last weeks.

    Nothing known at all reads as novice: the load follows the careful side.
    """
    if runner.level is not None:
        return runner.level
    if runner.running_months is not None and runner.running_months < limits.number("runner.novice_months"):
        return "novice"
    weekly_m = _mean_of_last(runner, int(limits.number("runner.level_weeks")))
    if weekly_m is None:
        weekly_m = limits.number("load.assumed_week")
    names: tuple[Level, ...] = ("novice", "intermediate", "club", "advanced")
    low_m, middle_m, high_m = limits.numbers("runner.level_bounds")
    return names[(weekly_m >= low_m) + (weekly_m >= middle_m) + (weekly_m > high_m)]


def _mean_of_last(runner: RunnerSettings, weeks: int) -> float | None:
    last_m = runner.weekly_distance_m[-weeks:]
    return sum(last_m) / len(last_m) if last_m else None
