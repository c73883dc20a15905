"""The race plan in rows: stretches, splits, plans A to C, the evening before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from markupsafe import Markup

from planbuilder.outputs.pages import words
from planbuilder.plan.types import Plan
from planbuilder.plan.walk import WORK_RPE
from planbuilder.race.types import DecisionPoint, Intake, Outcome, RacePlan, Stretch, TimedLine
from planbuilder.units import say_minutes, say_time, say_weekday

_WORTH_SAYING_S = 5.0
_LEFT_OUT = "This race is left out of the plan, so there are no times for it."
_EASY_SO_FAR = "Only easy running is planned, on race day too, until the plan is made anew."


@dataclass(frozen=True, slots=True)
class StretchView:
    """A stretch of the race with how to run it."""

    name: Markup
    where: Markup
    ground: Markup
    effort: str
    pace: Markup
    clock: str
    clock_b: str  # empty where there is no plan B with a clock
    pace_b: Markup
    cue: Markup
    cost: str  # against level ground, empty where it is next to nothing


@dataclass(frozen=True, slots=True)
class OutcomeView:
    """Plan A, B or C."""

    name: str
    time: str  # empty: no clock
    text: Markup
    cue: Markup


@dataclass(frozen=True, slots=True)
class DecisionView:
    """Where to step from one plan to the next."""

    where: Markup
    clocks: str
    text: Markup


@dataclass(frozen=True, slots=True)
class PlaceLine:
    """Something to do at a place."""

    where: Markup
    clock: str
    text: Markup


@dataclass(frozen=True, slots=True)
class TimedView:
    """A line of the evening sheet."""

    day: str  # said when it changes
    clock: str
    text: Markup


@dataclass(frozen=True, slots=True)
class RaceView:
    """The race plan, ready to print."""

    features: tuple[StretchView, ...]
    outcomes: tuple[OutcomeView, ...]
    decisions: tuple[DecisionView, ...]
    intakes: tuple[PlaceLine, ...]
    adjustments: tuple[Markup, ...]
    strategies: tuple[Markup, ...]
    fuelling: Markup
    evening: tuple[TimedView, ...]
    lay_out: tuple[Markup, ...]
    cues: tuple[Markup, ...]
    first_minutes: Markup
    do_not_start: tuple[Markup, ...]
    notes: tuple[Markup, ...]
    sentence: Markup  # realism of the goal


def race_view(plan: RacePlan) -> RaceView:
    """A race plan, ready to print."""
    share_b = slower_share(plan)
    return RaceView(
        features=tuple(stretch_view(stretch, share_b) for stretch in plan.features),
        outcomes=tuple(_outcome(outcome) for outcome in plan.outcomes),
        decisions=tuple(_decision(point) for point in plan.decisions),
        intakes=tuple(_intake(intake) for intake in plan.intakes),
        adjustments=tuple(
            Markup("{}: {}").format(words.seconds(change.seconds), words.sentence(change.why))
            for change in plan.adjustments
        ),
        strategies=tuple(
            Markup("{}: {} against even effort. {}").format(
                name.capitalize(), words.seconds(cost), words.sentence(text)
            )
            for name, cost, text in plan.strategy_costs
        ),
        fuelling=words.sentence(plan.fuelling),
        evening=timed_views(plan.evening),
        lay_out=tuple(words.both(item) for item in plan.lay_out),
        cues=tuple(words.both(cue) for cue in plan.cues),
        first_minutes=words.sentence(plan.first_minutes),
        do_not_start=tuple(words.both(sign) for sign in plan.do_not_start),
        notes=tuple(words.sentence(note.text) for note in plan.notes if not note.private),
        sentence=words.sentence(plan.goal.sentence),
    )


def race_as_planned(plan: Plan) -> RaceView:
    """The race plan, ready to print; without it where the weeks that were accepted hold no race to run."""
    view = race_view(plan.race_plan)
    race = plan.race_session
    if race is None:
        return replace(view, features=(), outcomes=(), decisions=(), sentence=Markup(_LEFT_OUT))
    if plan.race_plan.outcomes and max(step.effort_rpe[1] for step in race.steps) < WORK_RPE:
        return replace(view, features=(), outcomes=(), decisions=(), sentence=Markup(_EASY_SO_FAR))
    return view


def slower_share(plan: RacePlan) -> float | None:
    """Time of plan B over time of plan A: B is run in the same shape, so every clock grows by this."""
    times = {outcome.name: outcome.time_s for outcome in plan.outcomes}
    slower, first = times.get("B"), plan.finish_time_s
    return slower / first if slower and first else None


def stretch_view(stretch: Stretch, share_b: float | None = None) -> StretchView:
    """A stretch, ready to print: a band on steep ground, effort alone without a clock."""
    clock_s = stretch.clock_s
    return StretchView(
        name=words.heading(stretch.name),
        where=words.from_to(stretch.from_m, stretch.to_m),
        ground=words.sentence(stretch.ground),
        effort=words.effort(stretch.effort_rpe),
        pace=_pace(stretch),
        clock=_time(clock_s),
        clock_b=say_time(clock_s * share_b) if clock_s is not None and share_b else "",
        pace_b=_pace(stretch, share_b) if share_b else Markup(""),
        cue=words.sentence(stretch.cue),
        cost=_cost(stretch.cost_s),
    )


def _pace(stretch: Stretch, share: float = 1.0) -> Markup:
    quick, slow, target = stretch.pace_low_s_per_km, stretch.pace_high_s_per_km, stretch.pace_s_per_km
    if quick is None or slow is None or target is None:
        return Markup("")
    return words.pace_band(quick * share, slow * share) if stretch.by_effort else words.pace(target * share)


def _cost(cost_s: float | None) -> str:
    if cost_s is None or abs(cost_s) < _WORTH_SAYING_S:
        return ""
    return f"The ground {'costs' if cost_s > 0 else 'gives back'} {say_minutes(round(abs(cost_s)))}."


def _time(duration_s: float | None) -> str:
    return "" if duration_s is None else say_time(duration_s)


def _outcome(outcome: Outcome) -> OutcomeView:
    return OutcomeView(
        name=outcome.name,
        time=say_time(outcome.time_s) if outcome.time_s else "",
        text=words.sentence(outcome.words),
        cue=words.sentence(outcome.cue),
    )


def _decision(point: DecisionPoint) -> DecisionView:
    clocks = [
        f"{name} {say_time(clock)}"
        for name, clock in (("A", point.clock_a_s), ("B", point.clock_b_s))
        if clock is not None
    ]
    return DecisionView(words.place(point.at_m), " · ".join(clocks), words.sentence(point.words))


def _intake(intake: Intake) -> PlaceLine:
    return PlaceLine(words.place(intake.at_m), _time(intake.clock_s), words.sentence(intake.words))


def timed_views(lines: Sequence[TimedLine]) -> tuple[TimedView, ...]:
    """Lines with a clock; the day is said where it changes."""
    views: list[TimedView] = []
    day = None
    for line in lines:
        changed = line.when.date() != day
        day = line.when.date()
        views.append(
            TimedView(
                day=say_weekday(day) if changed else "",
                clock=words.clock(line.when.time()),
                text=words.both(line.words),
            )
        )
    return tuple(views)
