"""From results to form: the numbers of the results that count, and how sure they are."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Final

from planbuilder.course.types import Course
from planbuilder.physiology.critical_speed import (
    LONGEST_EFFORT_S,
    SHORTEST_EFFORT_S,
    CriticalSpeed,
    fit_critical_speed,
)
from planbuilder.runner.choice import Choice, before_injury, choose, flat_result, is_stale
from planbuilder.runner.corrections import Corrected, correct
from planbuilder.runner.models import threshold_speeds_mps
from planbuilder.runner.types import Form
from planbuilder.runner.words import race_words
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.notes import Note
from planbuilder.units import count_of, say_date

_UNTIL: Final = "until there is a newer one"


def find_form(
    runner: RunnerSettings,
    *,
    first_day: dt.date,
    race_distance_m: float,
    courses: Mapping[str, Course],
    limits: Limits,
) -> Form:
    """What the runner can do now on level ground in cool weather.

    ``courses`` holds the course files that results name, by that name. The result nearest to the race in time
    and distance sets the paces; the range comes from all that count and from both models.
    """
    corrected = [
        correct(result, place=place, first_day=first_day, courses=courses, limits=limits)
        for place, result in enumerate(runner.results)
    ]
    choice = choose(corrected, runner, race_distance_m=race_distance_m, limits=limits)
    speeds = [_threshold_speeds_mps(one, limits) for one in choice.counted]
    every = [speed for own in speeds for speed in own]
    critical, critical_notes = _critical_speed(corrected, runner, limits)
    return Form(
        results=choice.used,
        anchor=choice.anchor,
        stale=choice.stale,
        threshold_mps=speeds[0][0] if speeds else None,
        threshold_low_mps=min(every, default=None),
        threshold_high_mps=max(every, default=None),
        critical_speed_mps=critical.speed_mps if critical else None,
        d_prime_m=critical.d_prime_m if critical else None,
        needs_test=choice.stale or not choice.counted,
        notes=(
            *choice.notes,
            *_test_notes(choice, runner, limits),
            *_disagreement_notes(choice, [own[0] for own in speeds], limits),
            *critical_notes,
        ),
    )


def _threshold_speeds_mps(one: Corrected, limits: Limits) -> tuple[float, ...]:
    """By model, the power law first, and how far doubt about the ground moves it."""
    found = threshold_speeds_mps(**flat_result(one), limits=limits)
    if not one.spread:
        return found
    return (*found, found[0] * (1 - one.spread), found[0] * (1 + one.spread))


def _critical_speed(
    corrected: Sequence[Corrected], runner: RunnerSettings, limits: Limits
) -> tuple[CriticalSpeed | None, tuple[Note, ...]]:
    """The line through three or more fresh all-out efforts of 1 to 30 minutes, where they make one."""
    efforts = [
        (one.result.distance_m, one.flat_time_s)
        for one in corrected
        if (one.short or not one.problem)
        and one.result.effort == "all-out"
        and not is_stale(one, runner, limits)
        and SHORTEST_EFFORT_S <= one.flat_time_s <= LONGEST_EFFORT_S
    ]
    if len(efforts) < 3:
        return None, ()
    least_m, most_m = limits.numbers("runner.d_prime")
    try:
        found = fit_critical_speed(efforts)
    except ValueError:
        found = None
    if found is not None and least_m <= found.d_prime_m <= most_m:
        return found, ()
    text = "Your short efforts do not lie on one line, so no critical speed is read from them."
    return None, (Note(rule="runner.d_prime", text=text),)


def until_test(notes: Sequence[Note], date: dt.date | None) -> tuple[Note, ...]:
    """The notes of a form, with the day of the test that stands in the plan."""
    if date is None:
        return tuple(notes)
    day = f"until the test on {say_date(date)}"
    return tuple(replace(note, text=note.text.replace(_UNTIL, day)) for note in notes)


def _test_notes(choice: Choice, runner: RunnerSettings, limits: Limits) -> tuple[Note, ...]:
    """Why training runs by effort; a health reason is for the coach alone."""
    until = f"so training runs by effort and breathing {_UNTIL}."
    if not choice.counted:
        reason = "None of your results can be compared" if choice.used else "There is no recent result"
        return (Note("runner.result_age", f"{reason}, {until}", "assumed"),)
    if not choice.stale:
        return ()
    nearest = choice.counted[0]
    race = race_words(nearest.result.distance_m)
    if nearest.days_before_block > limits.number("runner.result_age"):
        text = (
            f"Your {race} is {count_of(nearest.days_before_block, 'day')} old when the block begins, {until}"
        )
        return (Note("runner.result_age", text, "assumed"),)
    notes = [Note("runner.result_age", f"Your {race} may not say what you can do today, {until}", "assumed")]
    if before_injury(nearest, runner, limits):
        text = f"The {race} is from before an injury, so it counts as stale."
        notes.append(Note("runner.injury_pain", text, private=True))
    return tuple(notes)


def _disagreement_notes(choice: Choice, speeds: Sequence[float], limits: Limits) -> tuple[Note, ...]:
    apart = [abs(speed / speeds[0] - 1) for speed in speeds]
    if not apart or max(apart) <= limits.number("runner.disagreement"):
        return ()
    other = choice.counted[apart.index(max(apart))]
    first, second = race_words(choice.counted[0].result.distance_m), race_words(other.result.distance_m)
    text = (
        f"Your {first} and your {second} differ by {max(apart) * 100:.0f} % once they are compared. "
        f"The {first}, nearer to this race in time and distance, leads, and the range is wider for it."
    )
    return (Note("runner.disagreement", text),)
