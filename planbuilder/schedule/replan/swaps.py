"""After one poor night: the hard session of the day, offered on the next one in place of its easy run.

Receives: the ``Cuts`` of a draft that has been re-planned, its bounds.
Gives: an offer with the words that take it, where every rule allows it. Without them the session of the day
is made easy: a person who says nothing runs nothing hard on a poor night.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from planbuilder.plan.types import Session, Week
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.edits import change_days
from planbuilder.schedule.replan.facts import DAY
from planbuilder.schedule.replan.rules import newly_broken
from planbuilder.schedule.replan.types import Bound, Why
from planbuilder.schedule.state import Planner
from planbuilder.settings.edit_models import Tired
from planbuilder.settings.notes import Note
from planbuilder.units import say_weekday

FIXED = ("club", "race", "tune_up", "test")  # of a certain day


def swaps(cuts: Cuts, bounds: tuple[Bound, ...], planner: Planner) -> Iterator[Note]:
    """An offer for every single poor night from today on."""
    for line in cuts.situation.edits:
        edit = line.edit
        if not isinstance(edit, Tired) or edit.worn or edit.last_day not in (None, edit.first_day):
            continue
        others = [one for one in bounds if line.line not in one.why.lines]
        day = edit.first_day
        if day < cuts.situation.today or any(one.first <= day + DAY and day <= one.last for one in others):
            continue
        for week in cuts.situation.accepted:
            pair = _pair(week, day, cuts)
            if pair is not None and _fits(*pair, cuts, planner):
                yield _offer(*pair)


def _pair(week: Week, day: dt.date, cuts: Cuts) -> tuple[Session, Session] | None:
    """The hard session of the day and the easy run of the next, both of them the plan's own to move."""
    free = [one for one in week.sessions if not one.cancelled and one.id not in cuts.draft.held]
    hard = [one for one in free if one.date == day and one.hard and one.role not in FIXED]
    easy = [one for one in free if one.date == day + DAY and one.role == "easy" and not one.hard]
    return (hard[0], easy[0]) if len(hard) == 1 and len(easy) == 1 else None


def _fits(hard: Session, easy: Session, cuts: Cuts, planner: Planner) -> bool:
    """Whether no rule is broken that holds without the swap."""
    accepted, today = cuts.situation.accepted, cuts.situation.today
    swapped = PlanDraft(accepted, today, held=frozenset())
    change_days(hard, easy, swapped, planner, Why("Offered.", "adapt.tired_days"))
    before = cuts.on(PlanDraft(accepted, today, held=frozenset()))
    return not newly_broken(before, cuts.on(swapped))


def _offer(hard: Session, easy: Session) -> Note:
    return Note(
        "adapt.tired_days",
        f"{hard.title} of {say_weekday(hard.date)} need not be lost: within the rules it can change days "
        f"with the easy run of {say_weekday(easy.date)}. Say so before this re-plan is accepted: "
        f"planbuilder edit BLOCK {hard.id} --with {easy.id}.",
        "info",
        hard.id,
    )
