"""Random lives of a plan: re-plans and undos in any order, replayed from the file and from scratch."""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from planbuilder.block.history import Accepted, Basis, append, read_history, undo
from planbuilder.plan.types import Week
from planbuilder.schedule.replan import Done, EditLine, Situation, replan
from tests.schedule.random_histories import health_edits, logs, session_edits
from tests.schedule.test_replan_properties import maren

DAY = dt.timedelta(days=1)
Step = tuple[dt.date, tuple[Done, ...], tuple[EditLine, ...]] | None  # None: undo


def noon(day: dt.date) -> dt.datetime:
    return dt.datetime.combine(day, dt.time(12), dt.UTC)


@st.composite
def lives(draw: st.DrawFn) -> list[Step]:
    _, weeks = maren()
    today = weeks[0].first_day
    steps: list[Step] = []
    for _ in range(draw(st.integers(1, 4))):
        today += draw(st.integers(1, 20)) * DAY
        if draw(st.integers(0, 3)) == 0:
            steps.append(None)
        else:
            edits = (*draw(health_edits(weeks, today)), *draw(session_edits(weeks, today)))
            steps.append((today, draw(logs(weeks, today)), edits))
    return steps


def live(state: Path, steps: list[Step]) -> list[tuple[Week, ...]]:
    """Accept the first plan, then one step after the other; what stood after each."""
    request, weeks = maren()
    first = Accepted("ines-a", weeks, Basis(), fresh=True)
    append(state, [first], by="publish", block="b", day=weeks[0].first_day, now=noon(weeks[0].first_day))
    stood = [weeks]
    for step in steps:
        history = read_history(state)
        if step is None:
            if history.to_undo("ines-a"):
                undo(state, "ines-a", day=weeks[-1].last_day, now=noon(weeks[-1].last_day))
        else:
            today, log, edits = step
            accepted = history.accepted("ines-a")
            assert accepted is not None
            situation = Situation(
                request=request,
                accepted=accepted.weeks,
                original=history.original("ines-a"),
                today=today,
                log=log,
                edits=edits,
                answered=history.answered("ines-a"),
                used_ids=history.ids("ines-a"),
            )
            answer = replan(situation)
            plan = replace(accepted, weeks=answer.weeks, lines=answer.lines, fresh=False)
            append(state, [plan], by="replan", block="b", day=today, now=noon(today))
        now = read_history(state).accepted("ines-a")
        assert now is not None
        stood.append(now.weeks)
    return stood


@given(lives())
@settings(max_examples=10)
def test_a_life_replayed_gives_the_same_plan_and_undo_restores_what_stood(steps: list[Step]) -> None:
    with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as two:
        stood = live(Path(one), steps)
        assert live(Path(two), steps) == stood
        assert (Path(one) / "history.jsonl").read_bytes() == (Path(two) / "history.jsonl").read_bytes()
        stack = [stood[0]]
        for step, weeks in zip(steps, stood[1:], strict=True):
            if step is None:
                stack = stack[:-1] or stack
                assert weeks == stack[-1]
            else:
                stack.append(weeks)
