"""A missed hard session or long run, offered again on another day of its week where every rule allows it.

Receives: a draft that has been re-planned.
Gives: an offer for each, with the words that take it. Nothing is moved here: missed work is not made up for a
runner, but a coach may want the session more than the easy run in whose place it would stand.
"""

from __future__ import annotations

from collections.abc import Iterator

from planbuilder.plan.types import Session, Week
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.facts import DAY
from planbuilder.schedule.replan.rules import newly_broken
from planbuilder.schedule.replan.types import Bound, Why
from planbuilder.settings.notes import Note
from planbuilder.units import say_weekday


def offers(cuts: Cuts, bounds: tuple[Bound, ...]) -> Iterator[Note]:
    """Where a session missed in the last days would still fit."""
    today, facts = cuts.situation.today, cuts.facts
    days = int(cuts.situation.request.limits.number("adapt.move_missed"))
    for week in cuts.draft.weeks:
        for missed in week.sessions:
            key = (missed.hard or missed.role == "long") and missed.role not in ("race", "tune_up")
            near = today - days * DAY <= missed.date < today
            if not (key and near and facts.done(missed) and facts.outcome(missed) == "missed"):
                continue
            places = [
                one
                for one in week.sessions
                if missed.date < one.date <= missed.date + days * DAY and _free(one, cuts, bounds)
            ]
            for place in places:
                if _fits(missed, place, week, cuts):
                    yield _offer(missed, place)
                    break


def _free(session: Session, cuts: Cuts, bounds: tuple[Bound, ...]) -> bool:
    eased = any(one.first <= session.date <= one.last for one in bounds)
    ahead = session.date >= cuts.situation.today and not session.cancelled
    return ahead and session.role == "easy" and session.id not in cuts.draft.held and not eased


def _minutes(missed: Session) -> int:
    return int(missed.duration_s // 60)


def _fits(missed: Session, place: Session, week: Week, cuts: Cuts) -> bool:
    """Whether it can stand there: no rule broken, and the week no more than it was laid out to be."""
    why = Why("Offered again.", "adapt.move_missed")
    kind, phase = missed.kind, cuts.draft.phase(place.date)
    if cuts.write.may_be(kind, phase):
        return False
    moved = cuts.write.of_kind(place, kind, phase, why, minutes=_minutes(missed))
    draft = PlanDraft(cuts.draft.weeks, cuts.situation.today, held=frozenset())
    if not draft.put(moved, why):
        return False
    after = cuts.on(draft)
    as_run = next(one for one in after.facts.as_run(draft.weeks) if one.first_day == week.first_day)
    if as_run.distance_m > week.distance_m + 1 or as_run.work_s > week.work_s + 1:
        return False
    return not newly_broken(cuts, after)


def _offer(missed: Session, place: Session) -> Note:
    return Note(
        "adapt.move_missed",
        f"{missed.title} of {say_weekday(missed.date)} was not run and is left out. Within the rules it "
        f"could stand on {say_weekday(place.date)} in place of the easy run, if coach and runner want it: "
        f"planbuilder edit BLOCK {place.id} --kind {missed.kind} --minutes {_minutes(missed)}.",
        "info",
        place.id,
    )
