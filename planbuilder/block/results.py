"""What a runner raced since the block began: results told in edits.toml, tune-ups and time trials of the log.

Receives: the edits and log lines of a runner, the tune-up races, the accepted sessions.
Gives: ``RunResult``s up to a day, as a result of the block file would say them; the time of the race itself.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any, Final

from planbuilder.plan.types import Session
from planbuilder.rules.context import trial_m
from planbuilder.runner.new_results import RunResult
from planbuilder.schedule.replan import Done, EditLine
from planbuilder.schedule.replan.facts import is_trial
from planbuilder.settings.edit_models import Edit, NewResult
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Result, TuneUp

_SHARED: Final = tuple(Result.model_fields)


def results_of(
    edits: Iterable[EditLine],
    log: Iterable[Done],
    *,
    tune_ups: Iterable[TuneUp],
    sessions: Iterable[Session],
    today: dt.date,
    limits: Limits,
) -> list[RunResult]:
    """Results up to a day, its own among them.

    What an edit says of a day wins over the log, which knows nothing of weather.
    """
    found = [
        RunResult(one.line, _result({name: getattr(one.edit, name) for name in _SHARED}), one.edit.explained,
                  one.edit.confirmed)
        for one in edits
        if isinstance(one.edit, NewResult) and one.edit.date <= today
    ]  # fmt: skip
    told = {run.result.date for run in found}
    races = {one.date: one for one in tune_ups if one.entered}
    by_id = {one.id: one for one in sessions}
    for done in log:
        if done.went != "done" or done.duration_s is None or done.date in told or done.date > today:
            continue
        result = _raced(done, races) or _trial(done, by_id.get(done.session), limits)
        if result is not None:
            found.append(RunResult(done.line, result))
    return found


def race_time_s(
    race: Session, distance_m: float, edits: Iterable[Edit], log: Iterable[Done], limits: Limits
) -> float | None:
    """The time of the race of the block, however it was told; None before that.

    As for every other day, what an edit says of it wins over the log.
    """
    near = limits.number("adapt.race_length")
    told = [
        edit.time_s
        for edit in edits
        if isinstance(edit, NewResult)
        and edit.date == race.date
        and abs(edit.distance_m / distance_m - 1) <= near
    ]
    runs = [line for line in log if line.went == "done" and is_race(line, race, distance_m, limits)]
    return told[-1] if told else runs[-1].duration_s if runs else None


def is_race(line: Done, race: Session, distance_m: float, limits: Limits) -> bool:
    """Whether a line of the log is of the race: by its session, or by day and distance without one."""
    if line.session:
        return line.session == race.id
    if line.date != race.date or line.distance_m is None:
        return False
    return abs(line.distance_m / distance_m - 1) <= limits.number("adapt.race_length")


def _raced(done: Done, races: Mapping[dt.date, TuneUp]) -> Result | None:
    """The time of a tune-up race over the distance and course it was entered with."""
    race = races.get(done.date)
    if race is None:
        return None
    return _result({"distance_m": race.distance_m, "time_s": done.duration_s, "date": done.date,
                    "course": race.course, "climb_m": race.climb_m})  # fmt: skip


def _trial(done: Done, session: Session | None, limits: Limits) -> Result | None:
    """A time trial whose line holds the trial alone: a line with warm-up and all says nothing of its time."""
    if session is None or not is_trial(session, done, limits):
        return None
    return _result({"distance_m": trial_m(session), "time_s": done.duration_s, "date": done.date})


def _result(said: Mapping[str, Any]) -> Result:
    plain: dict[str, Any] = {
        "course": "flat", "climb_m": None, "temperature_c": None, "humidity": None, "effort": "all-out"
    }  # fmt: skip
    return Result.model_construct(**{**plain, **said})
