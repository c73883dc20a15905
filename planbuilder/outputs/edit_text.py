"""Edits said in words, and what an undo took back: for the coach's terminal alone, health and all.

Receives: edits as they stand in edits.toml; which accepted plans were taken back, of whom.
Gives: plain text.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from planbuilder.settings.edit_models import (
    Annotate,
    AwayFromTraining,
    EasyDays,
    Edit,
    Goal,
    Ill,
    Move,
    NewResult,
    Niggle,
    Replace,
    SessionEdit,
    Shorten,
    Swap,
    Tired,
)
from planbuilder.units import count_of, say_date, say_length, say_time

_Told = Sequence[tuple[str, Edit]]  # of whom, and what was written


def edit_words(edit: Edit) -> str:
    """What an edit says, in a few words."""
    if isinstance(edit, SessionEdit):
        return _of_session(edit)
    if isinstance(edit, NewResult):
        return f"{say_length(edit.distance_m, 'km')} in {say_time(edit.time_s)} on {say_date(edit.date)}"
    if isinstance(edit, Goal):
        return f"goal {say_time(edit.goal_time_s)}"
    days = _days(edit.first_day, edit.last_day, open_end=isinstance(edit, Ill | Niggle))
    if isinstance(edit, Niggle):
        cleared = f", cleared on {say_date(edit.cleared)}" if edit.cleared else ""
        return f"niggle, {edit.place} {edit.pain} of 10, {days}{cleared}"
    what = {AwayFromTraining: "away", EasyDays: "easy", Ill: "illness", Tired: "tired"}
    return f"{what[type(edit)]} {days}"


def taken_back_text(
    accepted: Sequence[tuple[str, dt.date]], edits: _Told, left: _Told, *, logged: bool, block: str
) -> str:
    """What an undo took back, and what is written and waits still.

    ``accepted`` holds by name the day on which a plan was accepted that is taken back, ``logged`` whether it
    answered lines of the log.
    """
    parts = [
        f"{whom}: {edit_words(edit)} (written on {say_date(edit.on)}) is taken back." for whom, edit in edits
    ]
    if not accepted:
        parts = [f"{part[:-1]} and stands in edits.toml no more; it was not accepted yet." for part in parts]
    elif not edits:
        names, day = [name for name, _ in accepted], accepted[0][1]
        parts = [f"{', '.join(names)}: the re-plan accepted on {say_date(day)} is taken back."]
        if logged:
            parts[0] += " What was logged stays in log.csv."
    elif len(accepted) > 1:
        parts.append(
            f"It changes {count_of(len(accepted), 'plan')}: {', '.join(name for name, _ in accepted)}."
        )
    if left:
        parts.append("Still written, not accepted:")
        parts += [f"- {whom}: {edit_words(edit)}" for whom, edit in left]
        hold, out = f"planbuilder replan {block} --accept", f"planbuilder undo {block}"
        parts.append(f"To let it hold: {hold}\nTo take the last of it out: {out}")
    return "\n".join(parts) + "\n"


def _of_session(edit: SessionEdit) -> str:
    what = _session(edit.session)
    if isinstance(edit, Move):
        return f"{what} moved to {say_date(edit.to)}"
    if isinstance(edit, Swap):
        return f"{what} and {_session(edit.other)} change days"
    if isinstance(edit, Replace):
        return f"{what} as {edit.kind}" + (f", {edit.minutes} min" if edit.minutes else "")
    if isinstance(edit, Shorten):
        return f"{what} at {edit.minutes} min"
    return f'{what}, "{edit.text}"' if isinstance(edit, Annotate) else f"{what} called off"


def _session(named: str) -> str:
    """A session by its id, or a club night that is named by its date."""
    try:
        return f"the club night of {say_date(dt.date.fromisoformat(named))}"
    except ValueError:
        return named


def _days(first: dt.date, last: dt.date | None, *, open_end: bool) -> str:
    if last is None and open_end:
        return f"from {say_date(first)}, not over yet"
    if last is None or last == first:
        return f"on {say_date(first)}"
    return f"from {say_date(first)} to {say_date(last)}"
