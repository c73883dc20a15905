"""The sentence that says why a session is there.

Receives: the kind of a session, its phase, the demand it answers.
Gives: one sentence with unit marks that names the phase, and the stretch of the course where there is one.
"""

from __future__ import annotations

from typing import Final

from planbuilder.demands.types import Demand
from planbuilder.plan.types import Phase
from planbuilder.rules.orders import Draft
from planbuilder.schedule.load import WeekKind
from planbuilder.schedule.state import Planner
from planbuilder.units import place_mark, say_grade

PHASE_WORDS: Final[dict[Phase, str]] = {
    "base": "Base phase",
    "build": "Build phase",
    "specific": "Specific phase",
    "taper": "Taper",
    "after": "After the race",
}

WHY: Final[dict[str, str]] = {
    "easy_run": "easy minutes that carry everything else",
    "recovery_run": "slow minutes that let the last hard session sink in",
    "group_easy": "easy with the group",
    "strides": "a few quick, relaxed strides keep the legs lively between the hard days",
    "hill_sprints": "a handful of very short climbs for strength, too short to tire",
    "shakeout": "a short run to feel ready tomorrow",
    "long_run": "the long run, for legs that last the distance",
    "threshold_run": "a steady push at threshold raises the pace you can hold",
    "threshold_repeats": "threshold in pieces raises the pace you can hold",
    "short_hill_reps": "short climbs build strength for everything that follows",
    "intervals": "quick repeats lift the ceiling above race pace",
    "repetitions": "short quick repeats keep your stride economical",
    "fartlek": "quicker running by feel, without the watch",
    "progression_run": "easy first and quicker later, as a race should go",
    "steady_run": "steady minutes between easy and hard",
    "goal_repeats": "repeats at the effort of the race itself",
    "race_touch": "a touch of race effort keeps the edge while you rest",
    "long_run_goal_effort": "race effort on legs that have already run far",
    "race_simulation": "the late part of the race in its own order, once before the day",
    "test": "a time trial shows today's form, so that the paces fit",
    "strength": "stronger legs, so that every stride costs less",
    "cross_training": "exercise without the impact of running",
    "walk_run": "walking and running by turns, at an effort that leaves room to talk",
    "rolling_long_run": "a long run over rolling ground at an even effort",
    "controlled_downhill": "measured descents prepare the legs for the ones in the race",
    "downhill_start": "a rehearsal of the downhill start, held back on purpose",
    "descent_long_run": "easy first, then down on legs that have run far, as in the race",
    "long_hill_reps": "repeats on a hill like the one that decides this race",
    "hill_circuit": "climbing, and working on over the top",
    "uphill_tempo": "a long even effort uphill",
    "threshold_on_grade": "one effort up and down, as this course asks",
    "drag_session": "race effort up a gentle slope on tired legs",
    "hill_finish_long_run": "easy first, then a climb on legs that have run far, as in the race",
}

_ONCE: Final[dict[str, str]] = {  # where only one repeat is run
    "threshold_repeats": "a steady stretch at threshold raises the pace you can hold",
    "goal_repeats": "a stretch at the effort of the race itself",
    "long_hill_reps": "one climb at an even effort builds strength",
}
_ANY_HILL: Final = "repeats uphill at one even effort build strength"  # where they match no climb of the race

DEMAND_WORDS: Final[dict[str, str]] = {
    "downhill_start": "the downhill start",
    "early_hills": "the early hills",
    "long_flat": "the long flat",
    "rolling": "the rolling ground",
    "late_climb": "the climb",
    "hilly_finish": "the hilly finish",
    "finish_drag": "the drag to the line",
    "long_descent": "the long descent",
    "net_downhill": "the fall of the course",
    "downhill_race": "the descents of the course",
}


def phase_word(phase: Phase) -> str:
    """The phase as a sentence begins."""
    return PHASE_WORDS[phase]


_PLAIN: Final = ("early_hills", "rolling", "net_downhill", "downhill_race")  # their words say where


def demand_words(demand: Demand, *, only_climb: bool = False) -> str:
    """The stretch a demand stands for, with its place; the slope only of one that slopes one way."""
    if demand.kind in _PLAIN:
        return DEMAND_WORDS[demand.kind]
    if demand.kind == "hilly_finish":
        return f"{DEMAND_WORDS[demand.kind]} from {place_mark(demand.start_m)}"
    name = demand.feature.name if demand.feature is not None else DEMAND_WORDS[demand.kind]
    if name == "climb 1" and only_climb:
        name = "climb"
    place = f" at {place_mark(demand.start_m)}" if demand.start_m > 0 else " at the start"
    if demand.kind == "downhill_start":
        place = ""
    slope = f", {say_grade(demand.grade)}" if abs(demand.grade) >= 0.005 else ""
    named = name.startswith("the ") or name[-1].isdigit()  # "climb 3" is called so on the profile too
    return f"{name if named else 'the ' + name}{place}{slope}"


def why_for(planner: Planner, kind: str, phase: Phase, demand: Demand | None = None) -> str:
    """One sentence: the phase, what the session does, the stretch it answers."""
    template = planner.request.library.template(kind) if kind in planner.request.library else None
    reason = WHY.get(kind) or (template.purpose.rstrip(".") if template else "part of the plan")
    sentence = f"{phase_word(phase)}: {reason}"
    if demand is None:
        return f"{sentence}."
    climbs = sum(feature.kind == "climb" for feature in planner.request.features)
    return f"{sentence}; it answers {demand_words(demand, only_climb=climbs == 1)}."


def why_in_phase(why: str, phase: Phase) -> str:
    """The same sentence under another phase."""
    return f"{phase_word(phase)}:{why.partition(':')[2]}"


def why_as_written(why: str, draft: Draft) -> str:
    """The sentence for what was written: one repeat is no repeats, and any hill is not that of the race."""
    instead = ""
    if draft.main_set is not None and draft.main_set.repeats == 1:
        instead = _ONCE.get(draft.kind, "")
    elif draft.kind == "long_hill_reps" and not draft.course_specific:
        instead = _ANY_HILL
    return why.replace(WHY[draft.kind], instead, 1) if instead else why


def easy_night_why(planner: Planner, phase: Phase, week: WeekKind, *, near_hard: bool) -> str:
    """Why a runner runs easily on a club night; ``near_hard``: with something hard within two days."""
    allowed = planner.context.allowed
    if not allowed.screened:
        reason = " until your answers are in"
    elif not allowed.anything_above_easy:
        reason = ", as all your running for now"
    elif week in ("stub", "away", "recovery", "easy_week"):
        reason = ", because this week is light"
    elif near_hard:
        reason = ", so that the hard days stay apart"
    elif week == "taper":
        reason = ", because the load falls before the race"
    else:
        reason = ": minutes that carry everything else"
    return f"{phase_word(phase)}: {WHY['group_easy']}{reason}."
