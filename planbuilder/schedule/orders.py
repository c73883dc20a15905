"""From a wish for a session to a written draft.

Receives: a ``Planner`` and a ``Want``.
Gives: the draft that the session library writes for this runner, within what the week allows.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Phase
from planbuilder.race.ladder import finish_effort
from planbuilder.rules.checks_sessions import exposures, most_descent_s
from planbuilder.rules.library import Library
from planbuilder.rules.orders import Draft, Order
from planbuilder.rules.write_session import why_not, write_session
from planbuilder.schedule.state import Planner
from planbuilder.schedule.types import Want
from planbuilder.settings.session_models import Banned

DESCENT_KINDS: Final = ("downhill_start", "controlled_downhill")


def base_order(planner: Planner, phase: Phase) -> Order:
    """What all orders of this runner share."""
    request, allowed = planner.request, planner.context.allowed
    machine = planner.treadmill
    flags: list[tuple[Banned, bool]] = [
        ("uphill", not allowed.uphill),
        ("downhill", not allowed.downhill),
        ("fast", not (allowed.fast and allowed.anything_above_easy)),
        ("hops", not allowed.fast),
        ("all_out", not (allowed.all_out and allowed.anything_above_easy)),
        ("race", not planner.context.races),
    ]
    goal = request.race_plan.goal
    finishing = goal.verdict == "finish well"
    return Order(
        kind="easy_run",
        level=request.level,
        phase=phase,
        paces=request.paces,
        course=request.demands,
        race_time_s=request.race_plan.finish_time_s or goal.predicted_time_s,
        race_fuel=request.race_plan.fuel_g_per_hour,
        goal_pace=goal.goal_for_sessions or finishing,
        finish_rpe=finish_effort(request.race.distance_m, request.limits) if finishing else None,
        hills=request.runner.hills,
        treadmill_grade=machine.max_grade_percent / 100 if machine else 0.0,
        treadmill_descent=machine.descent_percent / 100 if machine else 0.0,
        substitutes=request.runner.substitutes,
        banned=frozenset(name for name, on in flags if on),
        day=planner.day_of_this_week,
        minor=allowed.minor,
        units=request.runner.units,
    )


def _descent_limit_s(planner: Planner) -> float:
    """Seconds of descents at race effort that the session to be written may hold."""
    before = exposures(planner.weeks, len(planner.weeks) - 1)
    return most_descent_s(before[-1] if before else None, planner.context)


def write_want(
    planner: Planner,
    want: Want,
    phase: Phase,
    *,
    duration_s: float | None = None,
    work_limit_s: float | None = None,
    climb_limit_m: float | None = None,
) -> Draft:
    """The draft of a want; where its ground or its kind is ruled out, what the library puts in its place."""
    library = planner.request.library
    order = replace(
        base_order(planner, phase),
        kind=want.kind,
        occurrence=planner.count.get(want.kind, 0),
        previous=planner.main_sets.get(want.kind),
        dose=want.dose,
        demand=want.demand,
        second_demand=want.second,
        duration_s=duration_s,
        work_limit_s=work_limit_s,
        climb_limit_m=climb_limit_m,
        descent_limit_s=_descent_limit_s(planner) if want.kind in DESCENT_KINDS else None,
    )
    for _ in range(4):
        if not why_not(order, library):
            break
        instead = library.template(order.kind).instead or "easy_run"
        order = replace(
            order,
            kind=instead,
            occurrence=planner.count.get(instead, 0),
            previous=planner.main_sets.get(instead),
        )
    return write_session(order, library, planner.request.limits)


def _outgrown(order: Order, library: Library) -> bool:
    """Whether a recovery run would be so long that it is an easy run."""
    span = library.template(order.kind).minutes
    most = span.of(order.level)[1] if span else 0.0
    return order.kind == "recovery_run" and (order.duration_s or 0.0) > most * 60


def write_easy(planner: Planner, kind: str, minutes: int, phase: Phase) -> Draft:
    """An easy run of so many minutes; the same one is written only once."""
    library = planner.request.library
    occurrence = planner.count.get(kind, 0) if kind in ("strides", "hill_sprints") else 0
    key = (kind, minutes, phase, occurrence)
    if key not in planner.drafts:
        order = replace(
            base_order(planner, phase), kind=kind, duration_s=minutes * 60.0, occurrence=occurrence
        )
        if why_not(order, library) or _outgrown(order, library):
            order = replace(order, kind="easy_run")
        planner.drafts[key] = write_session(order, library, planner.request.limits)
    return planner.drafts[key]
