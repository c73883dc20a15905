"""plan.csv: the plan as a table that any spreadsheet opens."""

from __future__ import annotations

import csv
import io
from typing import Final

from planbuilder.outputs.step_text import step_line
from planbuilder.plan.types import Plan, Session, Week
from planbuilder.units import in_minutes, say_in, say_weekday, unit_m

_HEADER: Final = (
    *("week", "phase", "date", "day", "start", "session", "title", "distance", "unit", "minutes", "effort"),
    *("steps", "ground", "why"),
)
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


def plan_csv(plan: Plan) -> str:
    """One line a session, in the runner's units; cells that could be taken for a formula are quoted."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(_HEADER)
    for week in plan.weeks:
        for session in week.sessions:
            writer.writerow([safe_cell(cell) for cell in _row(plan, week, session)])
    return text.getvalue()


def safe_cell(cell: str) -> str:
    """The cell as text that no spreadsheet takes for a formula.

    >>> safe_cell("=1+1"), safe_cell("easy")
    ("'=1+1", 'easy')
    """
    return f"'{cell}" if cell.startswith(_FORMULA) else cell


def _row(plan: Plan, week: Week, session: Session) -> list[str]:
    system = plan.runner.units
    low = min((step.effort_rpe[0] for step in session.steps), default=0)
    high = max((step.effort_rpe[1] for step in session.steps), default=0)
    return [
        str(week.number),
        week.phase,
        session.date.isoformat(),
        say_weekday(session.date),
        session.start_time.strftime("%H:%M") if session.start_time else "",
        session.id,
        f"called off: {session.title}" if session.cancelled else session.title,
        "0" if session.cancelled else f"{round(session.distance_m / unit_m(system) * 2) / 2:g}",
        system,
        "0" if session.cancelled else str(in_minutes(session.duration_s)),
        f"{low:g} to {high:g}",
        "; ".join(step_line(step, system) for step in session.steps),
        ", ".join(dict.fromkeys(step.ground.kind for step in session.steps if step.ground.kind != "any")),
        say_in(session.why, system),
    ]
