"""What a race during the block says about form: nothing, half a step, a step back, or ask first.

Receives: form, results that were run since, the limits.
Gives: ``NewForm``: by which factor predicted times move, and why.

Quicker paces come slowly and at most once in three weeks, slower ones at once; a bad day with a clear reason
changes nothing. Common practice; every number stands in limits.toml.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from planbuilder.course.types import Course
from planbuilder.runner.corrections import correct
from planbuilder.runner.prediction import predict
from planbuilder.runner.types import Form
from planbuilder.runner.words import result_words
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Result


@dataclass(frozen=True, slots=True)
class RunResult:
    """A result of the block with what its runner says about it."""

    line: str  # id of the line that tells of it
    result: Result
    explained: bool = False  # a clear reason made it slow
    confirmed: bool = False  # a session since then went as planned at the quicker paces


@dataclass(frozen=True, slots=True)
class NewForm:
    """Form after the results of the block."""

    time_factor: float = 1.0  # predicted times now, against those of the block file
    words: tuple[str, ...] = ()  # a sentence a result that counts
    lines: tuple[str, ...] = ()
    rest_from: dt.date | None = None  # easy days from here on, after a clearly slower result


def new_form(
    form: Form,
    results: Sequence[RunResult],
    *,
    weekly_distance_m: float,
    courses: Mapping[str, Course],
    limits: Limits,
) -> NewForm:
    """Form after these results, taken in the order of their dates."""
    found, upgraded = NewForm(), None
    for run in sorted(results, key=lambda one: (one.result.date, one.line)):
        ratio = _ratio(form, run, found.time_factor, weekly_distance_m, courses, limits)
        if ratio is None:
            continue
        gap_days = limits.number("adapt.upgrade_gap")
        soon = upgraded is not None and (run.result.date - upgraded).days < gap_days
        step, words = _answer(run, ratio, limits, soon=soon)
        upgraded = run.result.date if step < 1 else upgraded
        slower = step > 1
        found = NewForm(
            time_factor=found.time_factor * step,
            words=(*found.words, words),
            lines=(*found.lines, run.line),
            rest_from=run.result.date + dt.timedelta(days=1) if slower else found.rest_from,
        )
    return found


def with_factor(form: Form, factor: float) -> Form:
    """The form with every time longer by a factor; what was run stays as it was."""
    if factor == 1.0 or form.anchor is None:
        return form
    results = tuple(replace(one, flat_time_s=one.flat_time_s * factor) for one in form.results)
    at = form.results.index(form.anchor)

    def slower(speed_mps: float | None) -> float | None:
        return None if speed_mps is None else speed_mps / factor

    return replace(
        form,
        results=results,
        anchor=results[at],
        threshold_mps=slower(form.threshold_mps),
        threshold_low_mps=slower(form.threshold_low_mps),
        threshold_high_mps=slower(form.threshold_high_mps),
        critical_speed_mps=slower(form.critical_speed_mps),
    )


def _ratio(
    form: Form,
    run: RunResult,
    factor: float,
    weekly_distance_m: float,
    courses: Mapping[str, Course],
    limits: Limits,
) -> float | None:
    """The flat, cool time of a result against the predicted one; None where they cannot be compared."""
    if run.result.effort == "training":
        return None
    one = correct(run.result, place=0, first_day=run.result.date, courses=courses, limits=limits)
    expected = predict(
        form, distance_m=run.result.distance_m, weekly_distance_m=weekly_distance_m, limits=limits
    )
    if one.problem or expected is None:
        return None
    return one.flat_time_s / (expected.time_s * factor)


def _answer(run: RunResult, ratio: float, limits: Limits, *, soon: bool) -> tuple[float, str]:
    """The factor by which times move, and the sentence about it."""
    same, clear = limits.number("adapt.result_same"), limits.number("adapt.result_clear")
    name = result_words(run.result.distance_m, run.result.time_s)
    off = abs(1 - ratio)
    start = f"Your {name}, corrected for its course and weather, was {off * 100:.1f} %"
    if off <= same:
        return 1.0, f"Your {name} was as predicted, so the paces stay."
    if ratio > 1:
        if run.explained or off <= clear:
            reason = "there is a clear reason" if run.explained else "that is within a day's luck"
            return 1.0, f"{start} slower than predicted; {reason}, so the paces stay."
        return ratio, (
            f"{start} slower than predicted, so the paces follow it and some days are easy. Your coach will "
            "ask how you sleep, eat and feel; the first of your three race plans waits for a better test."
        )
    if soon:
        return 1.0, f"{start} quicker than predicted; the paces moved only just now, so they stay this time."
    if off > clear:
        step = limits.number("adapt.result_step")
        return 1 - step, (
            f"{start} quicker than predicted: your coach will check course and timing first. Paces move by "
            f"{step * 100:.0f} % now, and a goal may come down by {off * 50:.0f} % at most. The distance you "
            "run stays the same."
        )
    step = off if run.confirmed else off / 2
    rest = "" if run.confirmed else ", the rest once a session has gone well at them"
    return 1 - step, f"{start} quicker than predicted: paces move by {step * 100:.1f} % now{rest}."
