"""Six plans of different kind, each read line by line by a person: would a coach hand this out?

``pytest --accept tests/test_golden_plans.py`` writes them anew; read the diff as a coach, and as the runner
who must do it tomorrow, before committing.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from planbuilder import pipeline
from planbuilder.block import read_block
from planbuilder.outputs.calendar import content_of
from planbuilder.plan.types import Plan, Week
from planbuilder.units import say_date, say_in, say_minutes, say_run

GOLDEN = Path(__file__).parent / "golden" / "plans"
PLANS = sorted(path.parent.name for path in GOLDEN.glob("*/block.toml"))


def _week(plan: Plan, week: Week) -> str:
    amount = f"{say_run(week.distance_m, plan.runner.units)}, {say_minutes(week.duration_s)}"
    return f"=== Week {week.number}, {week.phase}{', recovery' if week.recovery else ''}: {amount}"


def _text(plan: Plan) -> str:
    """The plan as the runner's calendar tells it, session by session, the notes first."""
    units = plan.runner.units
    parts = [f"{note.kind}: {say_in(note.text, units)}" for note in plan.notes]
    for week in plan.weeks:
        parts.append(_week(plan, week))
        for session in week.sessions:
            said = content_of(plan, week, session)
            clock = f" {session.start_time:%H:%M}" if session.start_time else ""
            body = said.description.partition("\n")[2].replace("\n\n", "\n")
            parts.append(f"{say_date(session.date)}{clock}: {said.summary}\n{body}")
    return "\n\n".join(parts) + "\n"


def test_there_are_six() -> None:
    assert len(PLANS) == 6


@pytest.mark.parametrize("name", PLANS)
def test_a_plan_reads_as_it_was_read_by_a_person(name: str, request: pytest.FixtureRequest) -> None:
    (plan,) = pipeline.plan_all(read_block(GOLDEN / name))
    text, path = _text(plan), GOLDEN / name / "plan.txt"
    if request.config.getoption("--accept"):
        path.write_text(text, "utf-8")
    assert text == path.read_text("utf-8"), "read the plan, then pytest --accept tests/test_golden_plans.py"
