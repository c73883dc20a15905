"""The whole block, week after week.

Receives: a ``Request``.
Gives: a ``Schedule``. The work is linear in the number of weeks.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Week
from planbuilder.rules.checks_load import run_time_cap_s
from planbuilder.rules.context import Baseline, RuleContext, baseline_of, with_race_of
from planbuilder.rules.trips import home_days
from planbuilder.rules.tune_ups import no_hard_days, plan_tune_ups
from planbuilder.schedule.afterwards import weeks_after
from planbuilder.schedule.attempts import BlockPlan
from planbuilder.schedule.course_work import plan_descents, plan_long_runs
from planbuilder.schedule.load import week_kinds
from planbuilder.schedule.notes import notes_of, race_advice
from planbuilder.schedule.refusals import finish_well, injury_notes, no_time_goal, refusals
from planbuilder.schedule.resting import resting_weeks
from planbuilder.schedule.state import Planner
from planbuilder.schedule.tests_of_form import plan_tests
from planbuilder.schedule.types import Request, Schedule
from planbuilder.schedule.week import find_week, keep_week

ORDER: Final = ("refusal", "caution", "exception", "given_up", "override", "assumed", "info")


def rule_context(request: Request) -> RuleContext:
    """What the rules look at for this runner."""
    start = RuleContext(
        race=request.race,
        training=request.training,
        runner=request.runner,
        first_day=request.first_day,
        level=request.level,
        form=request.form,
        paces=request.paces,
        demands=request.demands,
        goal=request.race_plan.goal,
        library=request.library,
        limits=request.limits,
        baseline=Baseline(0.0, 0.0, 0.0, 0.0),
        done=request.done,
    )
    baseline = baseline_of(
        request.runner,
        request.training,
        request.limits,
        level=request.level,
        easy_s_per_km=request.paces.easy_s_per_km,
        longest_s=run_time_cap_s(start),
    )
    return replace(
        start,
        baseline=baseline,
        finish_well=finish_well(request, baseline),
        no_time_goal=no_time_goal(request, baseline),
    )


def planner_for(request: Request, *, leading: Sequence[Week] = ()) -> Planner:
    """The planner before the first week; weeks that are ``leading`` to the race stand already."""
    context = with_race_of(rule_context(request), leading)
    tune_ups = plan_tune_ups(context)
    return Planner(
        request=request,
        context=context,
        tune_ups=tune_ups,
        no_hard=no_hard_days(context, tune_ups) | frozenset(home_days(context)),
    )


def block_plan(planner: Planner) -> BlockPlan:
    """What is decided for the whole block before the first week is written."""
    kinds = week_kinds(planner.context)
    tests = plan_tests(planner, kinds)
    return BlockPlan(kinds, plan_long_runs(planner, kinds), plan_descents(planner, kinds), tests)


def make_schedule(request: Request) -> Schedule:
    """The plan of weeks for one runner."""
    planner = planner_for(request)
    return finished(planner, block_plan(planner) if planner.context.allowed.trains else None)


def finished(planner: Planner, block: BlockPlan | None) -> Schedule:
    """The plan of weeks, from the one that comes next; without ``block`` there is no running in it."""
    request, context = planner.request, planner.context
    refused = refusals(request, context)
    if block is not None:
        while len(planner.weeks) < len(context.frames):
            keep_week(planner, find_week(planner, block))
    elif context.allowed.block:
        planner.weeks = resting_weeks(planner, week_kinds(context))
    weeks = tuple(planner.weeks)
    advice = race_advice(planner)
    refused += advice
    notes = tuple(sorted((*refused, *notes_of(planner, weeks)), key=lambda note: ORDER.index(note.kind)))
    return Schedule(
        weeks,
        notes,
        tuple(injury_notes(request)),
        refused=any(n.kind == "refusal" for n in refused),
        after=weeks_after(planner, weeks),
        walks=any(note.kind == "refusal" for note in advice),
    )
