"""Weeks and sessions as plain data and back, exactly: what an accepted plan is kept as.

Sentences keep their unit marks and numbers their digits, so that a plan read back builds the same bytes.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from planbuilder.plan.types import Ground, Reason, Session, Step, Week


def week_to_data(week: Week) -> dict[str, Any]:
    """A week as data that JSON can carry."""
    data = asdict(week)
    data["first_day"], data["last_day"] = week.first_day.isoformat(), week.last_day.isoformat()
    data["sessions"] = [session_to_data(session) for session in week.sessions]
    return data


def week_from_data(data: Mapping[str, Any]) -> Week:
    """The week again; KeyError or TypeError where the data is not of ``week_to_data``."""
    return Week(
        **{
            **data,
            "first_day": dt.date.fromisoformat(data["first_day"]),
            "last_day": dt.date.fromisoformat(data["last_day"]),
            "sessions": tuple(session_from_data(session) for session in data["sessions"]),
        }
    )


def session_to_data(session: Session) -> dict[str, Any]:
    """A session as data that JSON can carry."""
    data = asdict(session)
    data["date"] = session.date.isoformat()
    data["start_time"] = session.start_time.isoformat("minutes") if session.start_time else None
    data["group_ends"] = session.group_ends.isoformat() if session.group_ends else None
    return data


def session_from_data(data: Mapping[str, Any]) -> Session:
    """The session again."""
    start, ends = data["start_time"], data.get("group_ends")
    return Session(
        **{
            **data,
            "date": dt.date.fromisoformat(data["date"]),
            "start_time": dt.time.fromisoformat(start) if start else None,
            "group_ends": dt.time.fromisoformat(ends) if ends else None,
            "steps": tuple(_step(step) for step in data["steps"]),
            "rehearses_m": tuple(_pair(stretch) for stretch in data["rehearses_m"]),
            "reasons": tuple(Reason(**reason) for reason in data["reasons"]),
        }
    )


def _step(data: Mapping[str, Any]) -> Step:
    pace = data["pace_s_per_km"]
    return Step(
        **{
            **data,
            "effort_rpe": _pair(data["effort_rpe"]),
            "pace_s_per_km": _pair(pace) if pace else None,
            "ground": Ground(**data["ground"]),
        }
    )


def _pair(values: Sequence[float]) -> tuple[float, float]:
    low, high = values
    return low, high
