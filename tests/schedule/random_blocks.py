"""Random sensible runners, courses and blocks for the property tests."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from planbuilder.settings.models import WEEKDAYS

sys.path.insert(0, str(Path(__file__).parent))
from builders import DISTANCES, Heights

SPEED_S_PER_KM = {
    "novice": (330, 420),
    "intermediate": (285, 345),
    "club": (240, 300),
    "advanced": (200, 255),
}
WEEKLY_KM = {"novice": (18, 32), "intermediate": (30, 56), "club": (52, 80), "advanced": (78, 120)}
ENTRY_KM = {"5 km": 15, "10 km": 22, "half marathon": 27, "marathon": 38}
LONGEST_KM = {"5 km": 6, "10 km": 8, "half marathon": 11, "marathon": 16}
WEEKS = {"5 km": (6, 16), "10 km": (8, 18), "half marathon": (10, 20), "marathon": (16, 24)}


@st.composite
def shapes(draw: st.DrawFn) -> Heights:
    """A course from random features: climbs, descents, drags and level ground."""
    points = [(0.0, 0.0)]
    at, height = 0.0, 0.0
    while at < 0.93:
        length = draw(st.floats(0.03, 0.3))
        kind = draw(st.sampled_from(("flat", "up", "down", "drag", "flat")))
        at = min(1.0, at + length)
        rise = {"flat": 0.0, "up": 1.0, "down": -1.0, "drag": 0.35}[kind] * draw(st.floats(4, 40))
        height += rise
        points.append((round(at, 3), round(height, 1)))
    if points[-1][0] < 1:
        points.append((1.0, points[-1][1]))
    return tuple(sorted(set(points)))


def _tune_up(draw: st.DrawFn, race_day: dt.date) -> dict[str, Any]:
    before = draw(st.sampled_from((14, 21, 28, 35, 42, 18)))
    run = draw(st.sampled_from(("5 km", "10 km", "half marathon")))
    return {
        "name": "Quarry",
        "date": race_day - dt.timedelta(days=before),
        "distance": run,
        "course": "hilly",
    }


@st.composite
def sensible(draw: st.DrawFn) -> dict[str, Any]:
    """Keywords of ``request_of`` for a runner a coach would take."""
    distance = draw(st.sampled_from(sorted(DISTANCES)))
    level = draw(st.sampled_from(sorted(WEEKLY_KM)))
    low, high = WEEKLY_KM[level]
    weekly = max(draw(st.integers(low, high)), ENTRY_KM[distance])
    least_days = 3 if weekly <= 55 else 4 if weekly <= 75 else 5
    count = draw(st.integers(least_days, 7))
    days = tuple(sorted(draw(st.permutations(WEEKDAYS))[:count], key=WEEKDAYS.index))
    long_day = "sunday" if "sunday" in days else "saturday" if "saturday" in days else days[-1]
    share = draw(st.floats(0.26, 0.36)) if count > 3 else draw(st.floats(0.36, 0.45))
    longest = max(round(weekly * share), LONGEST_KM[distance], round(weekly / count + 1))
    fast, slow = SPEED_S_PER_KM[level]
    pace = draw(st.integers(fast, slow))
    weeks = draw(st.integers(*WEEKS[distance]))
    race_day = dt.date(2027, 5, 16) + dt.timedelta(
        days=draw(st.sampled_from((0, 0, 0, 0, 0, 0, -1, -1, -4, 7)))
    )
    first = race_day - dt.timedelta(days=race_day.weekday()) - dt.timedelta(weeks=weeks - 1)
    first += dt.timedelta(days=draw(st.sampled_from((0, 0, 0, 0, 3))))
    result_day = first - dt.timedelta(days=draw(st.integers(7, 100)))
    runner: dict[str, Any] = {
        "level": level,
        "weekly_distance": f"{weekly} km",
        "longest_run": f"{min(longest, 34)} km",
        "days": days,
        "long_run_day": long_day,
        "age": draw(st.integers(18, 72)),
        "units": draw(st.sampled_from(("km", "mi"))),
        "hills": draw(st.booleans()) or draw(st.booleans()),
        "results": [{"distance": "10 km", "time": f"{pace * 10 // 60} min", "date": result_day}],
    }
    if draw(st.booleans()):
        runner["fast_minutes"] = draw(st.integers(0, min(20 + weekly // 2, 70)))
    if draw(st.integers(0, 5)) == 0:
        runner["treadmill"] = True
    nights = draw(st.sampled_from(((), ("tuesday",), ("tuesday", "thursday"), ("wednesday",), ("monday",))))
    training: dict[str, Any] = {"club_nights": [{"day": day, "time": "19:00"} for day in nights]}
    if weeks >= 8 and draw(st.integers(0, 2)) == 0:
        training["tune_ups"] = [_tune_up(draw, race_day)]
    if draw(st.integers(0, 5)) == 0:
        begin = first + dt.timedelta(days=draw(st.integers(8, max(9, 7 * (weeks - 3)))))
        end = begin + dt.timedelta(days=draw(st.integers(1, 7)))
        runner["away"] = [{"from": begin, "to": end, "runs": draw(st.integers(1, 3))}]
    if draw(st.integers(0, 7)) == 0:
        place = draw(st.sampled_from(("achilles", "knee", "hamstring", "hip", "shin")))
        runner["injuries"] = [{"place": place, "pain": draw(st.integers(0, 4))}]
    if draw(st.integers(0, 9)) == 0:
        runner["injured_last_6_months"] = True
    return {
        "distance": distance,
        "weeks": weeks,
        "shape": draw(shapes()),
        "race_date": race_day,
        "first_day": first,
        "training": training,
        **runner,
    }
