"""Random sensible runners, courses and blocks for the property tests."""

from __future__ import annotations

import datetime as dt
from random import Random
from typing import Any

from hypothesis import strategies as st

from planbuilder.settings.models import WEEKDAYS
from tests.schedule.builders import DISTANCES, Heights

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


def shape_of(rng: Random) -> Heights:
    """A course from random features: climbs, descents, drags and level ground."""
    points = [(0.0, 0.0)]
    at, height = 0.0, 0.0
    while at < 0.93:
        at = min(1.0, at + rng.uniform(0.03, 0.3))
        kind = rng.choice(("flat", "up", "down", "drag", "flat"))
        height += {"flat": 0.0, "up": 1.0, "down": -1.0, "drag": 0.35}[kind] * rng.uniform(4, 40)
        points.append((round(at, 3), round(height, 1)))
    if points[-1][0] < 1:
        points.append((1.0, points[-1][1]))
    return tuple(sorted(set(points)))


def _apart(races: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Races with a day between them: an entered race is never refused, so two in a row stay a breach."""
    kept: list[dict[str, Any]] = []
    for race in races:
        if all(abs((race["date"] - other["date"]).days) > 1 for other in kept):
            kept.append(race)
    return kept


def _tune_up(rng: Random, race_day: dt.date) -> dict[str, Any]:
    return {
        "name": "Quarry",
        "date": race_day - dt.timedelta(days=rng.choice((14, 21, 28, 35, 42, 18, 20, 22, 24, 31))),
        "distance": rng.choice(("5 km", "10 km", "half marathon")),
        "course": "hilly",
    }


def _days(rng: Random, weekly: int) -> tuple[str, ...]:
    least = 3 if weekly <= 40 else 4 if weekly <= 65 else 5 if weekly <= 85 else 6
    count = rng.choice((least, 4, 5, 5, 6, 6, 7))
    chosen = rng.sample(WEEKDAYS, max(count, least))
    if rng.random() < 0.8 and "sunday" not in chosen:
        chosen[0] = "sunday"
    return tuple(sorted(chosen, key=WEEKDAYS.index))


def _life(rng: Random, first: dt.date, weeks: int) -> dict[str, Any]:
    """Holidays, sore places, an injury behind."""
    found: dict[str, Any] = {}
    if rng.random() < 0.12:
        begin = first + dt.timedelta(days=rng.randint(8, max(9, 7 * (weeks - 3))))
        end = begin + dt.timedelta(days=rng.randint(1, 8))
        found["away"] = [{"from": begin, "to": end, "runs": rng.randint(1, 3)}]
    if rng.random() < 0.1:
        place = rng.choice(("achilles", "knee", "hamstring", "hip", "shin"))
        found["injuries"] = [{"place": place, "pain": rng.randint(0, 4)}]
    if rng.random() < 0.08:
        found["injured_last_6_months"] = True
    return found


def sensible_block(rng: Random) -> dict[str, Any]:
    """Keywords of ``request_of`` for a runner a coach would take."""
    distance = rng.choice(sorted(DISTANCES))
    level = rng.choice(sorted(WEEKLY_KM))
    weekly = max(rng.randint(*WEEKLY_KM[level]), ENTRY_KM[distance])
    days = _days(rng, weekly)
    share = rng.uniform(0.26, 0.36) if len(days) > 3 else rng.uniform(0.36, 0.45)
    longest = max(round(weekly * share), LONGEST_KM[distance], round(weekly / len(days) + 1))
    pace = rng.randint(*SPEED_S_PER_KM[level])
    weeks = rng.randint(*WEEKS[distance])
    race_day = dt.date(2027, 5, 16) + dt.timedelta(
        days=rng.choice((0, 0, 0, 0, -1, -1, -2, -3, -4, -5, -6, 7))
    )
    first = race_day - dt.timedelta(days=race_day.weekday()) - dt.timedelta(weeks=weeks - 1)
    first -= dt.timedelta(days=rng.choice((0, 0, 0, 0, 4)))  # sometimes a short first week
    result_day = first - dt.timedelta(days=rng.randint(7, 100))
    long_day = "sunday" if "sunday" in days else "saturday" if "saturday" in days else days[-1]
    runner: dict[str, Any] = {
        "level": level,
        "weekly_distance": f"{weekly} km",
        "longest_run": f"{min(longest, 34)} km",
        "days": days,
        "long_run_day": long_day,
        "age": rng.randint(18, 72),
        "units": rng.choice(("km", "mi")),
        "hills": rng.random() < 0.85,
        "treadmill": rng.random() < 0.25,
        "strength": rng.random() < 0.3,
        "two_a_day": rng.random() < 0.2,
        "results": [{"distance": "10 km", "time": f"{pace * 10 // 60} min", "date": result_day}],
    }
    if rng.random() < 0.5:
        runner["fast_minutes"] = rng.randint(0, min(20 + weekly // 2, 70))
    nights = rng.choice(((), ("tuesday",), ("tuesday", "thursday"), ("wednesday",), ("monday",)))
    training: dict[str, Any] = {"club_nights": [{"day": day, "time": "19:00"} for day in nights]}
    if weeks >= 8 and rng.random() < 0.35:
        training["tune_ups"] = [_tune_up(rng, race_day)]
    return {
        "distance": distance,
        "weeks": weeks,
        "shape": shape_of(rng),
        "race_date": race_day,
        "first_day": first,
        "training": training,
        **runner,
        **_life(rng, first, weeks),
    }


def odd_block(rng: Random) -> dict[str, Any]:
    """The same with things no coach plans for: any age from 15, any day, hardly a day, no answers."""
    block = sensible_block(rng)
    block["age"] = rng.randint(15, 80)
    block["days"] = tuple(sorted(rng.sample(WEEKDAYS, rng.randint(1, 7)), key=WEEKDAYS.index))
    block["long_run_day"] = rng.choice(WEEKDAYS)
    if rng.random() < 0.3:
        block["screening"] = rng.choice((None, "needed"))
    if rng.random() < 0.3:
        block["results"] = []
    if rng.random() < 0.3:
        block["minutes"] = {day: rng.choice((30, 45, 60, 90)) for day in block["days"]}
    if rng.random() < 0.3:
        block["weeks"] = rng.randint(1, 26)
        race_day = block["race_date"]
        monday = race_day - dt.timedelta(days=race_day.weekday())
        block["first_day"] = monday - dt.timedelta(weeks=block["weeks"] - 1)
    if rng.random() < 0.2:
        block["injuries"] = [{"place": rng.choice(("bone", "foot", "calf")), "pain": rng.randint(0, 9)}]
    if rng.random() < 0.3:
        block["training"]["tune_ups"] = _apart([_tune_up(rng, block["race_date"]) for _ in range(3)])
    return block


def sensible() -> st.SearchStrategy[dict[str, Any]]:
    """Sensible blocks, each from its own seed, so that shares over many of them mean something."""
    return st.integers(0, 2**48).map(lambda seed: sensible_block(Random(seed)))


def odd() -> st.SearchStrategy[dict[str, Any]]:
    """Odd blocks, each from its own seed."""
    return st.integers(0, 2**48).map(lambda seed: odd_block(Random(seed)))
