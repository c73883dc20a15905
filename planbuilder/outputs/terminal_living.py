"""What the commands of the living plan print: lines that were understood, changes before and after.

Receives: what re-planning answers, lines of the log as they were read.
Gives: plain text, and the same as data.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any, Final

from planbuilder.outputs.terminal import columns, wrapped
from planbuilder.plan.types import Session
from planbuilder.rules import Breach
from planbuilder.schedule.replan import Change, Done, Replan
from planbuilder.units import (
    System,
    count_of,
    in_minutes,
    say_date,
    say_in,
    say_minutes,
    say_run,
    say_time,
    say_weekday,
)

NO_DAY: Final = "day.available"


def replan_text(
    name: str,
    answer: Replan,
    *,
    times: Sequence[str] = (),
    system: System,
    width: int,
    block: str = "BLOCK",
) -> str:
    """Before and after for one runner, why, and what only a person can decide.

    ``block`` is the folder in the commands that are offered.
    """
    if not answer.changes:
        parts = [f"{name}: {'no session' if times else 'nothing'} changes."]
    else:
        rows = [_row(change, system) for change in answer.changes]
        shown = [row for row in rows if row[1] != row[2]]
        parts = [f"{name}: {_count(len(answer.changes))}"]
        if shown:
            parts.append(columns(("session", "before", "after"), shown))
        if len(shown) < len(rows):
            parts.append(f"{len(rows) - len(shown)} keep day and size; only paces or words are new.")
        reasons = dict.fromkeys(why.text for change in answer.changes for why in change.why)
        parts += [wrapped(f"- {say_in(text, system)}", width) for text in reasons]
    parts += [wrapped(say_in(text, system), width) for text in times]
    parts += [wrapped(f"Note: {say_in(note.text, system)}", width) for note in answer.notes]
    parts += [wrapped(f"Offer: {_typed(note.text, system, block)}", width) for note in answer.offers]
    parts += [
        wrapped(f"For the coach: {_typed(note.text, system, block)}", width) for note in answer.private_notes
    ]
    parts += [wrapped(_breach(one, system), width) for one in answer.breaches]
    return "\n".join(part.rstrip("\n") for part in parts) + "\n"


def no_days_text(found: Sequence[tuple[str, Replan]], *, width: int) -> str:
    """Who runs on a weekday that is none of theirs: a line a day, with names; nothing where nobody does."""
    names: dict[int, list[str]] = {}
    days: dict[int, dt.date] = {}
    for name, answer in found:
        for one in answer.breaches:
            if one.rule == NO_DAY and one.date is not None:
                days.setdefault(one.date.weekday(), one.date)
                names.setdefault(one.date.weekday(), []).append(name)
    lines = [
        wrapped(f"{say_weekday(days[day])} is no day of: {', '.join(dict.fromkeys(names[day]))}.", width)
        for day in sorted(days)
    ]
    return "\n".join(line.rstrip("\n") for line in lines)


def without_days(answer: Replan, *, accepted_only: bool = False) -> Replan:
    """The answer without the runs on days that are none of the runner's: all, or those accepted before."""
    new = {change.after.id for change in answer.changes if change.after} if accepted_only else set()
    kept = tuple(one for one in answer.breaches if one.rule != NO_DAY or one.session in new)
    return replace(answer, breaches=kept)


def says_something(answer: Replan, times: Sequence[str] = ()) -> bool:
    """Whether there is more to say of a runner than that nothing changes."""
    answers = (answer.changes, answer.notes, answer.offers, answer.private_notes, answer.breaches)
    return bool(times) or any(answers)


def unchanged_text(names: Sequence[str], *, width: int) -> str:
    """Of whom there is nothing to say, in one sentence."""
    if len(names) == 1:
        return f"{names[0]}: nothing changes.\n"
    return wrapped(f"Nothing changes for {count_of(len(names), 'runner')}: {', '.join(names)}.", width)


def weather_text(sentences: Sequence[str], *, system: System, width: int) -> str:
    """What the weather on race day asks for: no session changes, the race cards do."""
    parts = [wrapped(f"Race day: {say_in(text, system)}", width) for text in sentences]
    parts.append("The race plans and cards follow it: publish them, and tell the squad.")
    return "\n".join(part.rstrip("\n") for part in parts) + "\n"


def accepted_text(changes: Sequence[bool], *, block: str) -> str:
    """For how many runners a proposal was written: by runner, whether sessions change."""
    if not changes:
        return "Nothing is new, so nothing was accepted."
    same = changes.count(False)
    news = f", {same} of them with news that changes no session" if same else ""
    return f"Accepted for {count_of(len(changes), 'runner')}{news}. Take back: planbuilder undo {block}"


def understood_text(name: str, done: Done, session: Session | None, *, system: System) -> str:
    """A line of the log, said back."""
    what = f"{session.title} ({session.id})" if session else done.session or "a run outside the plan"
    parts = [f"{name}, {say_date(done.date)}: {what}, {done.went}"]
    if done.distance_m:
        parts.append(say_run(done.distance_m, system))
    if done.duration_s is not None:
        parts.append(say_time(done.duration_s))
    if done.effort_rpe is not None:
        parts.append(f"effort {done.effort_rpe:g} of 10")
    if done.pain is not None:
        parts.append(f"pain {done.pain} of 10" + (f", {done.place}" if done.place else ""))
    return ", ".join(parts) + "."


def replan_json(key: str, answer: Replan, times: Sequence[str] = ()) -> dict[str, Any]:
    """The same as data, SI; nothing about health."""
    return {
        "runner": key,
        "changes": [
            {
                "before": _data(change.before),
                "after": _data(change.after),
                "why": [{"text": say_in(why.text, "km"), "rule": why.rule} for why in change.why],
            }
            for change in answer.changes
        ],
        "times": [say_in(text, "km") for text in times],
        "breaches": [
            {"rule": one.rule, "session": one.session, "text": say_in(one.text, "km")}
            for one in answer.breaches
        ],
        "notes": [{"rule": note.rule, "text": say_in(note.text, "km")} for note in answer.notes],
        "offers": [
            {"rule": note.rule, "session": note.session, "text": say_in(note.text, "km")}
            for note in answer.offers
        ],
    }


def _typed(text: str, system: System, block: str) -> str:
    """A sentence with commands in it that can be typed as they stand."""
    return say_in(text, system).replace("planbuilder edit BLOCK ", f"planbuilder edit {block} ")


def _breach(found: Breach, system: System) -> str:
    where = f"{found.session}: " if found.session else ""
    return f"Breach ({found.rule}): {where}{say_in(found.text, system)}"


def _count(number: int) -> str:
    return f"{count_of(number, 'session changes', 'sessions change')}."


def _row(change: Change, system: System) -> tuple[str, str, str]:
    some = change.after or change.before
    return some.id if some else "", _cell(change.before, system), _cell(change.after, system)


def _cell(session: Session | None, system: System) -> str:
    if session is None:
        return "–"
    if session.cancelled:
        return "called off"
    size = f"{say_minutes(session.duration_s)}"
    if session.distance_m:
        size += f", {say_run(session.distance_m, system)}"
    if session.work_s >= 60:
        size += f", {say_minutes(in_minutes(session.work_s) * 60)} of work"
    return f"{session.date:%a} {session.date.day} {session.date:%b} {session.title}, {size}"


def _data(session: Session | None) -> dict[str, Any] | None:
    if session is None:
        return None
    return {
        "id": session.id,
        "date": session.date.isoformat(),
        "kind": session.kind,
        "title": session.title,
        "distance_m": session.distance_m,
        "duration_s": session.duration_s,
        "work_s": session.work_s,
        "cancelled": session.cancelled,
    }
