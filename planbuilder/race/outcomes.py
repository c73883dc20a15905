"""Plans A, B and C, where the runner checks them, and what other ways of running would cost.

Receives: the goal check, the time of plan A, the run over the course.
Gives: outcomes, decision points, costs of strategies.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from planbuilder.demands.terrain import Terrain
from planbuilder.race.conditions import Heat
from planbuilder.race.cues import turn_words
from planbuilder.race.ladder import CLASSES, CLASSIC_M, RaceClass, race_class
from planbuilder.race.solver import equal_fatigue_time_s
from planbuilder.race.stretches import Run
from planbuilder.race.types import FINISHING, Aim, DecisionPoint, GoalCheck, Outcome, Strategy
from planbuilder.settings.limits import Limits
from planbuilder.units import System, pace_mark, place_mark, unit_m

Array = NDArray[np.float64]
STRATEGIES: tuple[Strategy, ...] = ("even effort", "hold back", "pace group")


def strategy_weights(strategy: Strategy, terrain: Terrain, limits: Limits) -> Array:
    """How a strategy spreads flat-equivalent speed over the cells, shape (n,); even effort is 1
    everywhere."""
    if strategy == "hold back":
        back = limits.number("race.hold_back")
        return np.interp(terrain.middle_share, (1 / 3, 2 / 3), (1 - back, 1 + back))
    if strategy == "pace group":
        return terrain.factor
    return np.ones_like(terrain.factor)


def strategy_costs(
    terrain: Terrain, even_time_s: float, limits: Limits
) -> tuple[tuple[str, float, str], ...]:
    """Seconds each strategy takes more than even effort for the same fatigue, with words."""
    words = {
        "even effort": "the same effort all the way, slower up and quicker down",
        "hold back": "easier in the first third, stronger in the last: costs little, forgives a bad day",
        "pace group": "an even clock means overspending on every climb; let the group go on the first one "
        "that pushes you above plan",
    }
    costs: list[tuple[str, float, str]] = [("even effort", 0.0, words["even effort"])]
    for strategy in STRATEGIES[1:]:
        weight = strategy_weights(strategy, terrain, limits)
        time_s = equal_fatigue_time_s(flat_m=terrain.flat_m, weight=weight, even_time_s=even_time_s)
        costs.append((strategy, max(time_s - even_time_s, 0.0), words[strategy]))
    return tuple(costs)


def plan_b_time_s(*, finish_time_s: float, goal: GoalCheck, first_at_distance: bool, limits: Limits) -> float:
    """Plan B: current form, and always a little slower than plan A; a slower form never makes it quicker."""
    par_s = goal.predicted_time_s
    if first_at_distance and par_s is not None:
        return max(par_s * (1 + limits.number("race.plan_b_first")), finish_time_s)
    return max(par_s or 0.0, finish_time_s * (1 + limits.number("race.plan_b")))


_A_WORDS: Final[dict[Strategy, str]] = {
    "even effort": "an even effort all the way",
    "hold back": "held back in the first third, stronger in the last",
    "pace group": "an even clock with the group, which you let go where a climb asks for more than planned",
}
_EASIER: Final[dict[Aim, str]] = {  # what to do at a check where there are no plans by the clock
    "finish well": "walk a minute, then go on one notch easier",
    "walk and run": "walk two minutes, then go on with the turns",
}
_NOT_TODAY: Final = (
    Outcome("A", None, "not starting, and racing on another day: the strong decision here", "Ask early"),
    Outcome(
        "B",
        None,
        "if it goes ahead and you start: walking wherever it feels too hot",
        "Cool first, run later",
    ),
    Outcome(
        "C", None, "stopping while it is still your decision; there will be another race", "Say it early"
    ),
)
_HOT_OUTCOMES: Final = (
    Outcome(
        "A", None, "home in good shape: one notch lower all the way, drinking to thirst", "Shade and patience"
    ),
    Outcome(
        "B", None, "walking wherever it feels too hot, without a second thought", "Cool first, run later"
    ),
    Outcome(
        "C", None, "stopping while it is still your decision; there will be another race", "Say it early"
    ),
)


def make_outcomes(
    *,
    finish_time_s: float | None,
    b_time_s: float | None,
    strategy: Strategy,
    first_at_distance: bool,
    decisive_m: float | None,
    flat_m: float,
    heat: Heat,
    aim: Aim = "time",
    walk: tuple[float, ...] = (),
) -> tuple[Outcome, ...]:
    """A, B and C, written with the same care; ``flat_m`` is the flat-equivalent length of the course.

    C stands alone where the line is the goal; ``walk`` holds minutes of running and of walking by turns.
    """
    if heat == "stop":
        return _NOT_TODAY
    if heat == "no goal":
        return _HOT_OUTCOMES
    ground = f"the climb at {place_mark(decisive_m)}" if decisive_m is not None else "the last third"
    if aim in FINISHING:
        return (_finishing(aim, ground, walk),)
    c_first = "This one comes first this time: " if first_at_distance else ""
    c_words = (
        f"{c_first}an even effort from the start, {ground} run rather than survived, and a strong last part; "
        "no clock needed"
    )
    c_cue = "One landmark at a time; passing people late is the prize"
    if finish_time_s is None or b_time_s is None:
        a = Outcome(
            "A", None, "Every rung of the effort ladder kept, and the last one reached", "Effort leads"
        )
        b = Outcome(
            "B", None, f"The first two thirds comfortable, {ground} at one notch less", "Breathe, settle"
        )
        c = Outcome("C", None, c_words, c_cue)
        return (a, b, c)

    def level(time_s: float) -> str:
        return f"about {pace_mark(time_s / flat_m * 1000)} on level ground"

    return (
        Outcome(
            "A",
            finish_time_s,
            f"{_A_WORDS[strategy]}, {level(finish_time_s)}",
            "Patient early, brave late",
        ),
        Outcome(
            "B",
            b_time_s,
            f"good racing on an ordinary day, {level(b_time_s)}; stepping down early is a skill",
            "Drop one notch, get the breathing back, then hold",
        ),
        Outcome("C", None, c_words, c_cue),
    )


def _finishing(aim: Aim, ground: str, walk: tuple[float, ...]) -> Outcome:
    """The only plan of a race whose goal is the line."""
    if aim == "walk and run":
        words = (
            f"{turn_words(walk).lower()}, from the start; {ground} as it comes, and the line reached in good "
            "shape"
        )
        return Outcome("C", None, words, "Walk before you have to")
    words = (
        f"the first third easier than it wants to be, {ground} at the same breathing, walking where it takes "
        "more, and a strong last part; no clock needed"
    )
    return Outcome("C", None, words, "One landmark at a time; passing people late is the prize")


def make_decisions(
    *,
    run: Run,
    a_time_s: float | None,
    b_time_s: float | None,
    markers: System,
    too_hot: bool,
    limits: Limits,
    aim: Aim = "time",
) -> tuple[DecisionPoint, ...]:
    """Where the runner checks, at the markers of this road; on a day too hot for a time nothing is spent."""
    points: list[DecisionPoint] = []
    rpe, pace = limits.number("race.decision_rpe"), limits.number("race.decision_pace")
    kind = race_class(float(run.at_m[-1]))
    spend_m = limits.numbers("race.spend_from")[CLASSES.index(kind)] * float(run.at_m[-1]) / CLASSIC_M[kind]
    places = decision_places_m(float(run.at_m[-1]), markers, limits)
    for i, at_m in enumerate(places):
        clock_a = run.clock_at(at_m)
        clock_b = None
        if clock_a is not None and a_time_s is not None and b_time_s is not None:
            clock_b = clock_a * b_time_s / a_time_s
        down = "B" if i == 0 else "B, or from B to C"
        text = f"If it feels {rpe:g} harder than planned"
        if clock_a is not None:
            text += (
                f", or the pace is more than {pace * 100:.0f} % slower than the band at the planned effort"
            )
        if too_hot:
            text += ": walk until it feels easier. Dizzy, chilled or sick: stop, find shade, ask for help."
        else:
            text += f": {_EASIER.get(aim, f'step from A to {down}')}. Never win time back on a climb."
            if i == len(places) - 1:
                spend = place_mark(max(spend_m, at_m))
                text += f" If it feels easier than planned, you may spend it from {spend} on."
        points.append(DecisionPoint(at_m, clock_a, clock_b, text))
    return tuple(points)


def decision_places_m(distance_m: float, markers: System, limits: Limits) -> tuple[float, ...]:
    """Decision points, at whole markers."""
    kind: RaceClass = race_class(distance_m)
    scale = distance_m / CLASSIC_M[kind]
    unit = unit_m(markers)
    whole = (round(place * scale / unit) * unit for place in limits.numbers(f"race.decisions_{kind}"))
    return tuple(sorted({place for place in whole if 0 < place < distance_m}))
