"""From results to form: which result counts, what the others say, how sure that is."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from planbuilder.course.types import Course
from planbuilder.physiology.critical_speed import (
    LONGEST_EFFORT_S,
    SHORTEST_EFFORT_S,
    CriticalSpeed,
    fit_critical_speed,
)
from planbuilder.runner.corrections import Corrected, correct, words_of
from planbuilder.runner.models import threshold_speeds_mps
from planbuilder.runner.types import Form, UsedResult
from planbuilder.runner.words import race_words, result_words
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.notes import Note


@dataclass(frozen=True, slots=True)
class _Choice:
    """The results that count, the nearest first; the rest with the reason why not."""

    counted: tuple[Corrected, ...]
    stale: bool
    reasons: dict[int, str]  # by id of the corrected result
    notes: tuple[Note, ...]


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
        correct(result, first_day=first_day, courses=courses, limits=limits) for result in runner.results
    ]
    choice = _choose(corrected, race_distance_m, limits)
    used = {id(one): _used_result(one, choice) for one in corrected}
    critical = _critical_speed(corrected, limits)
    notes = list(choice.notes)
    if not choice.counted:
        notes.append(_no_result_note(bool(corrected)))
        return _form(corrected, used, choice, critical, notes, speeds=None)
    if choice.stale:
        notes.append(_stale_note(choice.counted[0], limits))
    speeds = [_speeds(one, limits) for one in choice.counted]
    notes.extend(_disagreement_notes(choice.counted, [own[0] for own in speeds], limits))
    return _form(corrected, used, choice, critical, notes, speeds=speeds)


def _form(
    corrected: Sequence[Corrected],
    used: Mapping[int, UsedResult],
    choice: _Choice,
    critical: CriticalSpeed | None,
    notes: Sequence[Note],
    *,
    speeds: Sequence[tuple[float, ...]] | None,
) -> Form:
    every = [speed for own in speeds or () for speed in own]
    return Form(
        results=tuple(used[id(one)] for one in corrected),
        anchor=used[id(choice.counted[0])] if choice.counted else None,
        stale=choice.stale,
        threshold_mps=speeds[0][0] if speeds else None,
        threshold_low_mps=min(every) if every else None,
        threshold_high_mps=max(every) if every else None,
        critical_speed_mps=critical.speed_mps if critical else None,
        d_prime_m=critical.d_prime_m if critical else None,
        needs_test=choice.stale or not choice.counted,
        notes=tuple(notes),
    )


def _choose(corrected: Sequence[Corrected], race_distance_m: float, limits: Limits) -> _Choice:
    reasons = {id(one): f"set aside, because {one.problem}" for one in corrected if one.problem}
    possible = [one for one in corrected if not one.problem]
    fresh = [one for one in possible if one.days_before_block <= limits.number("runner.result_age")]
    stale = bool(possible) and not fresh
    pool = fresh or possible
    honest = [one for one in pool if one.result.effort == "all-out"] or pool
    reach = limits.number("runner.result_reach")
    near = [one for one in honest if 1 / reach <= one.result.distance_m / race_distance_m <= reach]
    counted = near or honest
    for one in possible:
        if one not in pool:
            reasons[id(one)] = "set aside, because a newer result says more"
        elif one not in honest:
            reasons[id(one)] = "set aside, because it was not run all-out and another one was"
        elif one not in counted:
            reasons[id(one)] = "set aside, because a result nearer to this race's distance says more"
    counted, notes = _without_slips(counted, reasons, limits)
    counted = sorted(counted, key=lambda one: _remoteness(one, race_distance_m, limits))
    if (
        len(counted) == 2 and notes
    ):  # two that cannot both be right: the slower one leads until it is answered
        counted.sort(key=lambda one: threshold_speeds_mps(**_flat(one), limits=limits)[0])
    return _Choice(tuple(counted), stale, reasons, notes)


def _without_slips(
    counted: list[Corrected], reasons: dict[int, str], limits: Limits
) -> tuple[list[Corrected], tuple[Note, ...]]:
    """Without results so far from the others that a slip is likely; of two, the slower one stays."""
    if len(counted) < 2:
        return counted, ()
    speeds = {id(one): threshold_speeds_mps(**_flat(one), limits=limits)[0] for one in counted}
    middle = sorted(speeds.values())[(len(speeds) - 1) // 2]
    doubt = limits.number("runner.typing_doubt")
    far = [one for one in counted if abs(speeds[id(one)] / middle - 1) > doubt]
    if not far:
        return counted, ()
    for one in far:
        reasons[id(one)] = "set aside, because it lies far from the others; please look at distance and time"
    names = " and ".join(result_words(one.result.distance_m, one.result.time_s) for one in far)
    note = Note(
        rule="runner.typing_doubt",
        text=f"Your other results do not fit with {names}. Please look at the distance, the time and the "
        "unit; until then the others count.",
        kind="assumed",
    )
    return [one for one in counted if one not in far], (note,)


def _remoteness(one: Corrected, race_distance_m: float, limits: Limits) -> float:
    """How far a result is from the race: doublings of the distance plus age."""
    doublings = abs(math.log2(one.result.distance_m / race_distance_m))
    return doublings + max(one.days_before_block, 0) / limits.number("runner.nearness_days")


def _flat(one: Corrected) -> dict[str, float]:
    return {"distance_m": one.result.distance_m, "time_s": one.flat_time_s}


def _speeds(one: Corrected, limits: Limits) -> tuple[float, ...]:
    """Threshold speeds by model, and how far doubt about the ground moves them."""
    found = threshold_speeds_mps(**_flat(one), limits=limits)
    if not one.spread:
        return found
    return (*found, found[0] * (1 - one.spread), found[0] * (1 + one.spread))


def _used_result(one: Corrected, choice: _Choice) -> UsedResult:
    counts = one in choice.counted
    if counts and one is choice.counted[0]:
        verdict = "it sets your paces" if not choice.stale else "the last one there is, too old to set paces"
    else:
        verdict = "it widens the picture" if counts else choice.reasons[id(one)]
    if one.result.effort == "hard" and counts:
        verdict += ", though you may have had more in you that day"
    return UsedResult(
        distance_m=one.result.distance_m,
        time_s=one.result.time_s,
        days_before_block=one.days_before_block,
        flat_time_s=one.flat_time_s,
        used=counts,
        words=words_of(one, verdict),
    )


def _critical_speed(corrected: Sequence[Corrected], limits: Limits) -> CriticalSpeed | None:
    """The line through at least three fresh all-out efforts of 1 to 30 minutes, where they make one."""
    efforts = [
        (one.result.distance_m, one.flat_time_s)
        for one in corrected
        if (one.short or not one.problem)
        and one.result.effort == "all-out"
        and one.days_before_block <= limits.number("runner.result_age")
        and SHORTEST_EFFORT_S <= one.flat_time_s <= LONGEST_EFFORT_S
    ]
    try:
        return fit_critical_speed(efforts)
    except ValueError:
        return None


def _no_result_note(some: bool) -> Note:
    reason = "None of your results can be compared" if some else "There is no recent result"
    return Note(
        rule="runner.result_age",
        text=f"{reason}, so training runs by effort and breathing until a test in the first two weeks.",
        kind="assumed",
    )


def _stale_note(anchor: Corrected, limits: Limits) -> Note:
    race = race_words(anchor.result.distance_m)
    return Note(
        rule="runner.result_age",
        text=f"Your {race} is {anchor.days_before_block} days old, more than "
        f"{limits.number('runner.result_age'):.0f}, so training runs by effort until a test in the first two "
        "weeks.",
        kind="assumed",
    )


def _disagreement_notes(
    counted: Sequence[Corrected], speeds: Sequence[float], limits: Limits
) -> tuple[Note, ...]:
    apart = [abs(speed / speeds[0] - 1) for speed in speeds]
    widest = max(apart)
    if widest <= limits.number("runner.disagreement"):
        return ()
    other = counted[apart.index(widest)]
    first, second = race_words(counted[0].result.distance_m), race_words(other.result.distance_m)
    return (
        Note(
            rule="runner.disagreement",
            text=f"Your {first} and your {second} differ by {widest * 100:.0f} % once they are compared. "
            f"The {first} sets the paces, and the bands are wider for it.",
        ),
    )
