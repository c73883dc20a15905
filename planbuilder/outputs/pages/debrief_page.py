"""The pages after the race: one for the runner, one sheet for the club evening."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.debrief import Debrief, StretchRun
from planbuilder.outputs.pages import safety, words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, plan_frame
from planbuilder.plan.types import Plan
from planbuilder.settings.names import name_order
from planbuilder.units import say_grade, say_time

QUESTIONS = (
    "What went to plan?",
    "Where did your effort leave the plan, and what happened just before?",
    "What did the course do that training had not prepared you for?",
    "What do you want next?",
)


@dataclass(frozen=True, slots=True)
class StretchRow:
    """A stretch, ready to print."""

    name: str
    where: Markup
    grade: str
    planned: str
    time: str
    pace: Markup
    heart_rate: str
    held: str


@dataclass(frozen=True, slots=True)
class DebriefView:
    """The runner's page."""

    frame: Frame
    runner: str
    time: str
    planned: str
    range: str
    rows: tuple[StretchRow, ...]
    by_clock: bool  # the plan had a time for every stretch
    has_heart_rate: bool
    model: str
    questions: tuple[str, ...]
    keep: tuple[Markup, ...]
    general: str


@dataclass(frozen=True, slots=True)
class SquadRow:
    """A runner on the squad's sheet."""

    name: str
    time: str
    planned: str
    climbs: str


@dataclass(frozen=True, slots=True)
class SquadView:
    """The squad's sheet."""

    frame: Frame
    rows: tuple[SquadRow, ...]
    questions: tuple[str, ...]


def render_debrief(plan: Plan, debrief: Debrief) -> str:
    """The page of one runner, ``debrief.html``."""
    low, high = debrief.predicted_low_s, debrief.predicted_high_s
    return render(
        "debrief.html",
        page=DebriefView(
            frame=plan_frame(plan, title=f"{plan.runner.name}: looking back on {plan.race.name}"),
            runner=plan.runner.name,
            time=say_time(debrief.time_s),
            planned=_planned(debrief),
            range=f"{say_time(low)} to {say_time(high)}" if low and high else "",
            rows=tuple(_row(one) for one in debrief.stretches),
            by_clock=any(one.planned_s for one in debrief.stretches),
            has_heart_rate=any(one.heart_rate is not None for one in debrief.stretches),
            model=plan.race_plan.model,
            questions=QUESTIONS,
            keep=tuple(_keep(debrief)),
            general=safety.GENERAL,
        ),
    )


def render_squad_debrief(plans: Iterable[Plan], debriefs: Mapping[str, Debrief]) -> str:
    """The sheet for the club evening, by name and never by time. Raises ValueError where nobody has run."""
    run = sorted(
        (plan for plan in plans if plan.runner.key in debriefs), key=lambda plan: name_order(plan.runner.name)
    )
    if not run:
        raise ValueError("the squad's sheet needs at least one result")
    return render(
        "squad-debrief.html",
        page=SquadView(
            frame=plan_frame(run[0], title=f"{run[0].race.name}: looking back"),
            rows=tuple(_squad_row(plan, debriefs[plan.runner.key]) for plan in run),
            questions=QUESTIONS,
        ),
    )


def _planned(debrief: Debrief) -> str:
    """What was planned, in a word or a time; empty where nothing was."""
    if debrief.to_finish:
        return "to finish well"
    return say_time(debrief.planned_s) if debrief.planned_s else ""


def _row(one: StretchRun) -> StretchRow:
    return StretchRow(
        name=one.name,
        where=Markup("{} to {}").format(words.place(one.from_m), words.place(one.to_m)),
        grade=say_grade(one.grade),
        planned=say_time(one.planned_s) if one.planned_s else "",
        time=say_time(one.time_s),
        pace=words.pace(one.pace_s_per_km),
        heart_rate=f"{one.heart_rate:.0f}" if one.heart_rate is not None else "",
        held=one.held or "",
    )


def _keep(debrief: Debrief) -> Iterable[Markup]:
    """What goes into the next block."""
    harder = [one for one in debrief.stretches if one.held == "harder than the rest"]
    for one in harder[:2]:
        yield Markup(
            "{} was run harder than the rest: rehearse it by effort, a little slower at its foot."
        ).format(one.name.capitalize())
    climbs = [one for one in debrief.stretches if one.climbs]
    for one in climbs:
        yield Markup("{}: {}. Keep it; it is the time to compare with.").format(
            one.name.capitalize(), say_time(one.time_s)
        )
    yield Markup(
        "Next: easy days until stairs feel normal, then easy running, then a first quicker session. A "
        "shorter race in a month or two is a good next step, and this result is where the next block begins."
    )


def result_line(plan: Plan, debrief: Debrief) -> str:
    """The result as a line of the next block file."""
    metres = plan.race.distance_m
    course = plan.race.course_file or plan.demands.course_class
    return (
        f'results = [{{ distance = "{metres / 1000:g} km", time = "{say_time(debrief.time_s)}", '
        f'date = {plan.race.date.isoformat()}, course = "{course}" }}]'
    )


def _squad_row(plan: Plan, debrief: Debrief) -> SquadRow:
    held, climbs = debrief.climbs_held, "not recorded"
    if held:
        climbs = f"{held[0]} of {held[1]} no harder than the rest"
    elif debrief.stretches:
        climbs = "recorded, without a plan by the clock"
    return SquadRow(
        name=plan.runner.name,
        time=say_time(debrief.time_s),
        planned=_planned(debrief) or "by effort",
        climbs=climbs,
    )
