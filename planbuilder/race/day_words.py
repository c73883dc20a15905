"""What the expected day does to the times that are shown: which of them allow for it and which do not.

Receives: the outlook, the time of plan A, what the day adds.
Gives: a note, or nothing where the day changes nothing.
"""

from __future__ import annotations

from planbuilder.race.conditions import say_adjustments
from planbuilder.race.outlook import Outlook
from planbuilder.race.types import Adjustment
from planbuilder.settings.notes import Note
from planbuilder.units import say_time


def day_notes(outlook: Outlook, plan_a_s: float | None, added: tuple[Adjustment, ...]) -> tuple[Note, ...]:
    """One sentence on the day, one on whose times hold it."""
    said = say_adjustments(added)
    if plan_a_s is None or not said:
        return ()
    whose = _whose_times(outlook, plan_a_s)
    return (Note("race.conditions", f"What the expected day does at the same effort: {said}. {whose}"),)


def _whose_times(outlook: Outlook, plan_a_s: float) -> str:
    par_s = outlook.goal.predicted_time_s
    if par_s is None:
        return (
            "No result says what you could do on a cool day, so plans A and B rest on your goal and do not "
            "allow for it: the effort leads, and the clock may drift by that much."
        )
    if abs(plan_a_s - par_s) < 0.5:
        return "The prediction and the times of plans A and B allow for it."
    cool_s = plan_a_s / outlook.slower
    return (
        f"The prediction and plan B allow for it. Plan A does not: {say_time(plan_a_s)} on this day asks for "
        f"the effort of about {say_time(cool_s)} in cool, still air near sea level. If that is not there by "
        "the first check, run plan B."
    )
