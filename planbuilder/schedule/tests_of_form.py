"""Time trials: where there is no fresh result, or the one there is grows too old.

Receives: a ``Planner`` and the kinds of the weeks.
Gives: a want for each week that holds a test.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from planbuilder.plan.types import Reason, Week
from planbuilder.rules.write_session import why_not
from planbuilder.schedule.load import WeekKind
from planbuilder.schedule.orders import base_order
from planbuilder.schedule.state import TEST_RULE, Planner
from planbuilder.schedule.types import Want
from planbuilder.schedule.words import phase_word, why_for

FRESH_DAYS = 112  # 16 weeks
NO_RESULT = "there is no fresh result to take paces from"
SECOND_TEST = "a second result makes the paces surer"

MEASURE = (
    "Run the hard part over a measured loop, or remember where you got to and measure it afterwards: "
    "distance and time make a result, run hard but not all-out."
)


def first_test(weeks: Sequence[Week]) -> dt.date | None:
    """The day of the first test of a plan, the club's own trial among them."""
    return next(
        (
            one.date
            for week in weeks
            for one in week.sessions
            if not one.cancelled
            and (one.kind == "test" or any(reason.rule == TEST_RULE for reason in one.reasons))
        ),
        None,
    )


def plan_tests(planner: Planner, kinds: Sequence[WeekKind]) -> dict[int, Want]:
    """One test in the first two weeks without a fresh result; another before a result is 16 weeks old.

    Without a result nobody is tested who runs to finish well, nor a novice who hopes for no time: breathing
    is enough for them.
    """
    context, form = planner.context, planner.request.form
    if not context.allowed.anything_above_easy:
        return {}
    no_time = context.finish_well or (context.level == "novice" and context.runner.goal_time_s is None)
    if no_time and form.by_effort:
        return {}
    frames = context.frames
    early = [
        number
        for number, kind in enumerate(kinds)
        if kind in ("loaded", "recovery") and number <= (2 if frames[0].stub else 1)
    ]
    found: dict[int, Want] = {}
    if (form.stale or form.needs_test or form.anchor is None) and early:
        found[early[-1]] = _test(planner, early[-1], NO_RESULT)
        fresh_from = frames[early[-1]].first_day
    else:
        age = form.anchor.days_before_block if form.anchor else 0
        fresh_from = context.first_day - dt.timedelta(days=age)
    races = [plan.race.date for plan in planner.tune_ups if plan.effort == "all-out"]
    for number, kind in enumerate(kinds):
        if number in found or kind not in ("loaded", "recovery") or frames[number].phase == "taper":
            continue
        fresh_from = max([fresh_from, *(day for day in races if day <= frames[number].last_day)])
        ahead = [day for day in races if day > frames[number].last_day]
        limit_day = fresh_from + dt.timedelta(days=FRESH_DAYS)
        if limit_day >= context.race.date or any(day <= limit_day for day in ahead):
            continue
        later = [
            other
            for other, later_kind in enumerate(kinds)
            if other > number
            and later_kind in ("loaded", "recovery")
            and frames[other].last_day <= limit_day
            and frames[other].phase != "taper"
        ]
        wanted = kind == "recovery" and not any(kinds[other] == "recovery" for other in later)
        if wanted or not later:
            found[number] = _test(planner, number, "the last result would be more than 16 weeks old")
            fresh_from = frames[number].first_day
    return found


def _test(planner: Planner, number: int, reason: str) -> Want:
    phase = planner.context.frames[number].phase
    test = replace(base_order(planner, phase), kind="test")
    controlled = planner.context.level == "novice" or bool(why_not(test, planner.request.library))
    kind = "threshold_run" if controlled else "test"
    if controlled:
        why = f"{phase_word(phase)}: a controlled test at an even effort, because {reason}. {MEASURE}"
    else:
        why = why_for(planner, "test", phase).rstrip(".") + f"; {reason}."
    return Want(
        kind,
        "test",
        why,
        reasons=(Reason("rule", f"A test stands here because {reason}.", TEST_RULE),),
        decisive=True,
    )
