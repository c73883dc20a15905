"""What a race during the block says about form: nothing, half a step, a step back, or ask first.

Receives: form, results that were run since, the limits.
Gives: ``NewForm``: by which factor predicted times move, and why. ``FirstResult`` for a runner who trained by
effort: the result that paces come from now.

Quicker paces come slowly and at most once in three weeks, slower ones at once; a bad day with a clear reason
changes nothing. Common practice; every number stands in limits.toml.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
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
    last_day: dt.date | None = None  # of the last result that counts


@dataclass(frozen=True, slots=True)
class FirstResult:
    """The first fresh result of a runner without one: paces come from it, where none were before."""

    run: RunResult
    form: Form  # with it
    time_factor: float  # above 1 where it is held back, because it is far quicker than the old result
    words: str  # that paces come from it: a sentence without its end, for the bands to follow
    held: str  # why it is held back, a sentence; "" where it is not


def first_result(
    form: Form,
    results: Sequence[RunResult],
    *,
    form_with: Callable[[Result], Form],
    weekly_distance_m: float,
    courses: Mapping[str, Course],
    limits: Limits,
) -> FirstResult | None:
    """The first result that ends training by effort; None where form is known, or by none of them.

    ``form_with`` gives form with a result more. A bad day with a clear reason sets no paces. Against an old
    result the new one makes paces quicker by no more than any new result may; a slower one counts at once.
    """
    if not form.by_effort:
        return None
    for run in in_order(results):
        found = form_with(run.result)
        if run.explained or found.by_effort:
            continue
        ratio = _ratio(form, run, 1.0, weekly_distance_m, courses, limits)
        name = result_words(run.result.distance_m, run.result.time_s)
        words = f"Your paces now come from your {name}, corrected for its course and weather"
        if ratio is None or 1 - ratio <= limits.number("adapt.result_same"):
            return FirstResult(run, found, 1.0, words, "")
        step = _quicker_by(1 - ratio, run, limits)
        if step >= 1 - ratio:
            return FirstResult(run, found, 1.0, words, "")
        held = (
            f"It was {(1 - ratio) * 100:.1f} % quicker than your result from before the block says, so for "
            f"now paces are {step * 100:.1f} % quicker than from that one"
        )
        if 1 - ratio > limits.number("adapt.result_clear"):
            held += ", and your coach will check course and timing"
        return FirstResult(run, found, (1 - step) / ratio, words, f"{held}.")
    return None


def in_order(results: Sequence[RunResult]) -> list[RunResult]:
    """By date; those of one day by the lines that tell of them."""
    return sorted(results, key=_order)


def _order(run: RunResult) -> tuple[dt.date, str]:
    return run.result.date, run.line


def new_form(
    form: Form,
    results: Sequence[RunResult],
    *,
    weekly_distance_m: float,
    courses: Mapping[str, Course],
    limits: Limits,
    first: FirstResult | None = None,
) -> NewForm:
    """Form after these results, taken in the order of their dates; after ``first`` only those behind it."""
    found, upgraded = NewForm(), None
    if first is not None:
        form = first.form
        found = NewForm(
            time_factor=first.time_factor, lines=(first.run.line,), last_day=first.run.result.date
        )
        upgraded = first.run.result.date if first.held else None
        results = [run for run in results if _order(run) > _order(first.run)]
    for run in in_order(results):
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
            last_day=run.result.date,
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
        step = _quicker_by(off, run, limits)
        return 1 - step, (
            f"{start} quicker than predicted: your coach will check course and timing first. Paces move by "
            f"{step * 100:.0f} % now, and a goal may come down by {off * 50:.0f} % at most. The distance you "
            "run stays the same."
        )
    step = _quicker_by(off, run, limits)
    rest = "" if run.confirmed else ", the rest once a session has gone well at them"
    return 1 - step, f"{start} quicker than predicted: paces move by {step * 100:.1f} % now{rest}."


def _quicker_by(off: float, run: RunResult, limits: Limits) -> float:
    """The share by which paces may become quicker after a result that was quicker by ``off``."""
    if off > limits.number("adapt.result_clear"):
        return limits.number("adapt.result_step")
    return off if run.confirmed else off / 2
