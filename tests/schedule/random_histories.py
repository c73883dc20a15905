"""Random things that happen to a plan: misses, illnesses, pain, edits, results, in any order."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from planbuilder.plan.types import Session, Week
from planbuilder.schedule.replan import Done, EditLine
from planbuilder.settings.edit_models import EDITS

DAY = dt.timedelta(days=1)
PLACES = ("achilles", "calf", "knee", "shin", "hip", "foot", "bone", "other")


def edit(line: str, **values: Any) -> EditLine:
    """An edit as a person would write it."""
    model: Any = EDITS[values["do"]]
    return EditLine(line, model.model_validate({"runner": "ines-a", **values}))


def done(session: Session, went: Any = "done", **values: Any) -> Done:
    """A line of the log about a session."""
    return Done(f"log/{session.date}/ines-a/{session.id}", session.date, session.id, went, **values)


@st.composite
def logs(draw: st.DrawFn, weeks: Sequence[Week], today: dt.date) -> tuple[Done, ...]:
    """What a runner says of the past: mostly run, now and then a stretch of nothing or a word of pain."""
    past = [
        one
        for week in weeks
        for one in week.sessions
        if one.date < today and one.role not in ("strength", "cross")
    ]
    if not past:
        return ()
    missed: set[str] = set()
    for _ in range(draw(st.integers(0, 2))):
        start = draw(st.integers(0, len(past) - 1))
        missed |= {one.id for one in past[start : start + draw(st.sampled_from((1, 1, 2, 4, 8, 16)))]}
    lines = []
    for session in past:
        if session.id in missed:
            if draw(st.booleans()):
                lines.append(done(session, "missed"))
            continue
        values: dict[str, Any] = {}
        if draw(st.integers(0, 5)) == 0:
            values["distance_m"] = session.distance_m * draw(st.floats(0.3, 1.4))
        if draw(st.integers(0, 3)) == 0:
            values["effort_rpe"] = float(draw(st.integers(3, 10)))
        if draw(st.integers(0, 15)) == 0:
            values |= {"pain": draw(st.integers(0, 7)), "place": draw(st.sampled_from(PLACES))}
        if draw(st.integers(0, 9)):
            lines.append(done(session, draw(st.sampled_from(("done", "done", "part"))), **values))
    if draw(st.integers(0, 4)) == 0:
        day = draw(st.sampled_from(past)).date + DAY
        if day < today:
            lines.append(Done(f"log/{day}/ines-a", day, "", "done", distance_m=draw(st.floats(2000, 12_000))))
    return tuple(lines)


@st.composite
def health_edits(draw: st.DrawFn, weeks: Sequence[Week], today: dt.date) -> tuple[EditLine, ...]:
    """Illness, tiredness, a sore place, days away, somewhere around today."""
    found = []
    for number in range(draw(st.integers(0, 2))):
        first = today + draw(st.integers(-20, 14)) * DAY
        last = first + draw(st.integers(0, 12)) * DAY
        kind = draw(st.sampled_from(("ill", "tired", "easy", "niggle", "away")))
        values: dict[str, Any] = {"do": kind, "on": min(first, today), "from": first}
        if draw(st.booleans()) or kind == "away":
            values["to"] = last
        if kind == "ill":
            values["fever"] = draw(st.booleans())
        if kind == "tired":
            values |= {"hours": draw(st.sampled_from((5.5, 6.5, 8.0))), "worn": draw(st.booleans())}
        if kind == "niggle":
            values |= {"place": draw(st.sampled_from(PLACES)), "pain": draw(st.integers(0, 8))}
        if kind == "away":
            values["runs"] = draw(st.integers(0, 3))
        found.append(edit(f"edit/{kind}/ines-a/{number}", **values))
    return tuple(found)


@st.composite
def session_edits(draw: st.DrawFn, weeks: Sequence[Week], today: dt.date) -> tuple[EditLine, ...]:
    """Moves, swaps, skips and the like of sessions ahead, and of some that have passed."""
    sessions = [one for week in weeks for one in week.sessions]
    found = []
    for number in range(draw(st.integers(0, 3))):
        session = draw(st.sampled_from(sessions))
        kind = draw(st.sampled_from(("move", "swap", "skip", "replace", "shorten", "annotate")))
        values: dict[str, Any] = {"do": kind, "on": today, "session": session.id}
        if kind == "move":
            values["to"] = session.date + draw(st.integers(-3, 3)) * DAY
        elif kind == "swap":
            values["with"] = draw(st.sampled_from(sessions)).id
        elif kind == "replace":
            values["kind"] = draw(st.sampled_from(("easy_run", "threshold_repeats", "fartlek", "long_run")))
        elif kind == "shorten":
            values["minutes"] = draw(st.integers(15, 80))
        elif kind == "annotate":
            values["text"] = "Meet at the bridge."
        found.append(edit(f"edit/{kind}/ines-a/{session.id}/{number}", **values))
    return tuple(found)
