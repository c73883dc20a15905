"""What a coach may want to take up: a missed session on another day, the time of a trial that was not told.

Receives: a draft that has been re-planned.
Gives: an offer for each, with the words that take it. A missed hard session or long run is offered again
where every rule allows it. Nothing is moved here: missed work is not made up for a runner, but a coach may
want the session more than the easy run in whose place it would stand.
"""

from __future__ import annotations

from collections.abc import Iterator

from planbuilder.plan.types import Session, Week
from planbuilder.rules.context import trial_m
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.facts import DAY, is_trial
from planbuilder.schedule.replan.rules import newly_broken
from planbuilder.schedule.replan.types import Bound, Why
from planbuilder.settings.edit_models import NewResult
from planbuilder.settings.notes import Note
from planbuilder.units import say_date, say_weekday


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


def untimed(cuts: Cuts) -> Iterator[Note]:
    """Trials and tune-up races of the last days that were run, of whose time nothing was told."""
    situation, facts = cuts.situation, cuts.facts
    request, days = situation.request, int(situation.request.limits.number("adapt.untimed"))
    told = {line.edit.date for line in situation.edits if isinstance(line.edit, NewResult)}
    for session in facts.runs:
        line, race = facts.done(session), cuts.context.tune_up_on(session.date)
        metres = race.distance_m if race is not None else trial_m(session) if session.kind == "test" else None
        near = situation.today - days * DAY <= session.date < situation.today
        if metres is None or line is None or line.went != "done" or not near or line.date in told:
            continue
        if line.duration_s is not None and (race is not None or is_trial(session, line, request.limits)):
            continue
        yield Note(
            "adapt.untimed",
            f"{session.title} of {say_date(line.date)} was run, and no time of it alone was told, so "
            f'paces stay. If it was timed: planbuilder edit BLOCK result --runner "{request.runner.name}" '
            f'--distance "{metres:.0f} m" --time MM:SS --date {line.date}.',
            "info",
            session.id,
        )


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
