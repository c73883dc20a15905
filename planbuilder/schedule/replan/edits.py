"""A person's word about single sessions, put into a draft as it stands: what it breaks is shown, not mended.

Receives: a ``PlanDraft``, edits in the order in which they were written.
Gives: the draft with them, and a note for an edit that could not be carried out.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from planbuilder.plan.types import Session
from planbuilder.schedule.days import start_time
from planbuilder.schedule.replan.draft import PlanDraft
from planbuilder.schedule.replan.types import EditLine, Situation, Why
from planbuilder.schedule.replan.write import Rewriter, on_day
from planbuilder.schedule.state import Planner
from planbuilder.settings.edit_models import (
    EVERYONE,
    Annotate,
    Move,
    Replace,
    SessionEdit,
    Shorten,
    Skip,
    Swap,
)
from planbuilder.settings.models import WEEKDAYS
from planbuilder.settings.notes import Note
from planbuilder.units import say_date

HELD: tuple[type, ...] = (Move, Swap, Skip, Replace, Shorten)


def session_edits(situation: Situation) -> list[EditLine]:
    """Edits of single sessions; where coach and runner speak of the same one, the runner's word is last."""
    own = [line for line in situation.edits if isinstance(line.edit, SessionEdit)]
    return sorted(own, key=lambda line: (line.edit.on, line.edit.by == "runner"))


def held_ids(situation: Situation) -> frozenset[str]:
    """Sessions that stand as a person wants them."""
    found: set[str] = set()
    for line in session_edits(situation):
        if isinstance(line.edit, HELD) and isinstance(line.edit, SessionEdit):
            found.add(line.edit.session)
        if isinstance(line.edit, Swap):
            found.add(line.edit.other)
    return frozenset(found)


def moved_nights(situation: Situation) -> frozenset[dt.date]:
    """The days of club nights that were moved for the whole squad."""
    moved = {
        line.edit.session
        for line in situation.edits
        if isinstance(line.edit, Move) and line.edit.runner.casefold() == EVERYONE
    }
    laid_out = (one for week in situation.original for one in week.sessions)
    return frozenset(one.date for one in laid_out if one.id in moved)


def laid_on(situation: Situation, date: dt.date) -> str | None:
    """The id of the club session that was laid out on a day, wherever it stands now."""
    laid_out = (one for week in situation.original for one in week.sessions)
    return next((one.id for one in laid_out if one.role == "club" and one.date == date), None)


def edited_but_moved(situation: Situation, id_: str) -> bool:
    """Whether a person wants a session as it stands; a night moved for the squad may still be another one."""
    return any(
        id_ in (line.edit.session, getattr(line.edit, "other", ""))
        and not (isinstance(line.edit, Move) and line.edit.runner.casefold() == EVERYONE)
        for line in session_edits(situation)
        if isinstance(line.edit, HELD) and isinstance(line.edit, SessionEdit)
    )


def apply_edits(situation: Situation, draft: PlanDraft, planner: Planner) -> tuple[Note, ...]:
    """Carry out every edit that the accepted plan has not taken in yet."""
    write, notes = Rewriter(planner), []
    for line in session_edits(situation):
        if line.line in situation.answered:
            continue
        problem = _apply(line, draft, planner, write, situation)
        if problem:
            notes.append(Note("edits", problem, "info"))
    return tuple(notes)


def reason_of(line: EditLine) -> Why:
    """What the runner reads about a person's edit."""
    who = "Your own wish" if line.edit.by == "runner" else "Your coach's word"
    words = line.edit.why.strip().rstrip(".")
    return Why(f"{who}: {words}." if words else f"{who}.", "edits", (line.line,))


def _apply(line: EditLine, draft: PlanDraft, planner: Planner, write: Rewriter, situation: Situation) -> str:
    edit = line.edit
    assert isinstance(edit, SessionEdit)
    session = draft.session(edit.session)
    if session is None:
        return f"There is no session {edit.session} any more, so nothing was changed there."
    if session.date < situation.today:
        return f"{edit.session} has passed, so it stays as it was."
    if session.role == "race":
        return "The race stays on its day; only the block file can move it."
    why, phase = reason_of(line), draft.phase(session.date)
    if isinstance(edit, Move):
        return _move(session, edit, draft, planner, why, situation)
    if isinstance(edit, Swap):
        return _swap(session, edit, draft, planner, why, situation)
    if isinstance(edit, Skip):
        draft.put(write.called_off(session, why), why)
    elif isinstance(edit, Replace):
        if problem := write.may_be(edit.kind, phase):
            return problem
        draft.put(write.of_kind(session, edit.kind, phase, why, minutes=edit.minutes), why)
    elif isinstance(edit, Shorten):
        draft.put(write.shorter(session, phase, why, edit.minutes * 60.0), why)
    elif isinstance(edit, Annotate):
        said = Why(edit.text, "edits", why.lines)
        draft.put(write.noted(session, said), said)
    return ""


def _move(
    session: Session, edit: Move, draft: PlanDraft, planner: Planner, why: Why, situation: Situation
) -> str:
    if edit.to < situation.today or edit.to >= situation.request.race.date:
        return f"{edit.session} cannot move to {say_date(edit.to)}: it must be between today and the race."
    moved = _moved(session, edit.to, planner, why)
    if edit.runner.casefold() == EVERYONE:
        moved = replace(moved, start_time=session.start_time, place=session.place)
    draft.put(moved, why)
    return ""


def _swap(
    session: Session, edit: Swap, draft: PlanDraft, planner: Planner, why: Why, situation: Situation
) -> str:
    other = draft.session(edit.other)
    if other is None or other.date < situation.today or other.role == "race":
        return f"{edit.other} cannot be swapped any more, so {edit.session} stays on its day."
    change_days(session, other, draft, planner, why)
    return ""


def change_days(session: Session, other: Session, draft: PlanDraft, planner: Planner, why: Why) -> None:
    """Let two sessions change days."""
    first, second = session.date, other.date
    draft.put(_moved(session, second, planner, why), why)
    draft.put(_moved(other, first, planner, why), why)


def _moved(session: Session, date: dt.date, planner: Planner, why: Why) -> Session:
    """The session on another day, at that day's hour; a club session elsewhere is run alone."""
    if session.date == date:
        return session
    day = WEEKDAYS[date.weekday()]
    club = day in planner.context.club_days
    moved = on_day(session, date, start_time(planner, date, club=club), why)
    return replace(moved, place="") if session.role == "club" and not club else moved
