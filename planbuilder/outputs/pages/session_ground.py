"""A session as the ground it asks for, laid over the ground of the race it rehearses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from markupsafe import Markup, escape

from planbuilder.course.types import Feature
from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.ground import (
    Anchor,
    Land,
    Points,
    anchor,
    edges,
    on_phone,
    path,
    without_middles,
)
from planbuilder.plan.types import Ground, Session
from planbuilder.plan.walk import Leg, timeline
from planbuilder.units import System

_PAD_PX = 7.0
_LABEL_PX = 15.0
_SOIL_PX = 12.0
_GAP_PX = 8.0  # between two labels
_WAVE_M = 500.0  # half a wave of rolling ground that has no profile of its own
_WAVE_HIGH_M = 6.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of the race under a session."""

    id: str  # of its path, which stands once on the page
    path: str
    at: str
    anchor: Anchor
    row: int  # of its label, 0 nearest the ground
    y: float  # of its label, below the top
    labels: tuple[tuple[System, str], ...]  # one for each system of units


@dataclass(frozen=True, slots=True)
class SessionGround:
    """The picture of a session; lines are easy running, bars are work."""

    height_px: float
    race_y: float  # where the highest point of the race comes to lie
    shows_race: bool
    stretches: tuple[Stretch, ...]
    easy: str
    work: str
    end_at: str
    end_top: str  # percent of the height
    end_foot: str
    level: bool  # easy running on the level from end to end: a single line says it
    indoors: bool  # a machine or a room: the line is broken
    caption: Markup


def session_ground(session: Session, land: Land, features: Sequence[Feature]) -> SessionGround | None:
    """The picture of a session; None where nothing is run, and for a race on ground nobody has told of."""
    legs = timeline(session.steps)
    walked_m = legs[-1].start_m + legs[-1].distance_m if legs else 0.0
    if walked_m < 1.0 or session.distance_m < 1.0 or _unknown_ground(session):
        return None
    stretched = session.distance_m / walked_m  # the session knows its distance, whatever the easy pace
    shows_race = bool(session.rehearses_m) or session.role == "race"
    runs = (
        [(True, land.points(0.0, land.finish_m))] if session.role == "race" else list(_runs(legs, stretched))
    )
    heights = [height for _, points in runs for _, height in points]
    high = max(heights + ([land.high_m] if shows_race else []))
    low = min(heights + ([land.low_m] if shows_race else []))
    per_m = land.scale.px_per_m
    stretches = () if session.role == "race" else _stretches(session, land)
    top_px = _PAD_PX + _LABEL_PX * max((stretch.row + 1 for stretch in stretches), default=0)
    top_m = high + top_px / per_m
    lines = {
        work: "".join(path(land.scale, points, top_m) for is_work, points in runs if is_work == work)
        for work in (False, True)
    }
    end_m, end_high = runs[-1][1][-1]
    end_px = (top_m - end_high) * per_m
    height_px = round(top_px + (high - low) * per_m + (_SOIL_PX if shows_race else _PAD_PX), 1)
    return SessionGround(
        height_px=height_px,
        race_y=round(top_px + (high - land.high_m) * per_m, 1),
        shows_race=shows_race,
        stretches=stretches,
        easy=lines[False],
        work=lines[True],
        end_at=land.scale.percent(end_m),
        end_top=f"{(end_px - 5) / height_px * 100:.0f}%",
        end_foot=f"{(end_px + 5) / height_px * 100:.0f}%",
        level=not shows_race and not lines[True] and high == low,
        indoors=any(leg.ground.kind in ("treadmill", "indoors") for leg in legs),
        caption=_caption(session, features),
    )


def _unknown_ground(session: Session) -> bool:
    """Whether it is a race on ground of which there is no picture: a level line would say that it is flat."""
    raced = [step for step in session.steps if step.kind == "race"]
    return session.role != "race" and any(step.ground.kind == "any" for step in raced)


def _runs(legs: Sequence[Leg], stretched: float) -> Iterator[tuple[bool, Points]]:
    """Lines of easy running and of work, each as places and heights."""
    at, high = 0.0, 0.0
    foot = 0.0  # where the last climb began: the jog down from a hill ends there
    for is_work, group in groupby(legs, key=lambda leg: leg.is_work):
        points = [(at, high)]
        for leg in group:
            grade, distance_m = leg.ground.grade or 0.0, leg.distance_m * stretched
            if leg.ground.kind == "down" and not is_work and distance_m:
                back = (foot - high) / distance_m
                grade = max(grade, back) if leg.ground.grade else back
            if grade > 0:
                foot = high
            if leg.ground.kind == "rolling":
                grade = 0.0
                points.extend(_waves(at, high, distance_m))
            at += distance_m
            high += distance_m * grade
            points.append((at, high))
        yield is_work, without_middles(points, off_m=0.3)


def _waves(at: float, high: float, distance_m: float) -> Points:
    """Rolling ground without a profile: even waves, back on their level at the end."""
    count = max(2, round(distance_m / _WAVE_M / 2) * 2)
    step = distance_m / count
    return [(at + step * turn, high + (_WAVE_HIGH_M if turn % 2 else 0.0)) for turn in range(1, count)]


@lru_cache(maxsize=64)
def _cut(land: Land, from_m: float, to_m: float) -> str:
    """The closed path of a stretch: a few of them come back all through a block."""
    return land.closed(from_m, to_m, 600.0)


def _stretches(session: Session, land: Land) -> tuple[Stretch, ...]:
    """The stretches in their order, each label in the lowest row where it touches no other on a phone."""
    stretches = sorted(session.rehearses_m)
    middles = [on_phone(land, from_m, to_m) for from_m, to_m in stretches]
    labels = [words.from_to_pair(from_m, to_m) for from_m, to_m in stretches]
    letters = [max(len(text) for _, text in label) for label in labels]
    hangs = [anchor(middle, count) for middle, count in zip(middles, letters, strict=True)]
    ends: list[float] = []  # of every row
    rows: list[int] = []
    for middle, count, hang in zip(middles, letters, hangs, strict=True):
        left, right = edges(middle, count, hang)
        free = (row for row, end in enumerate(ends) if end + _GAP_PX < left)
        row = next(free, len(ends))
        ends[row : row + 1] = [right]
        rows.append(row)
    return tuple(
        Stretch(
            id=f"stretch-{from_m:.0f}-{to_m:.0f}",
            path=_cut(land, from_m, to_m),
            at=land.scale.percent((from_m + to_m) / 2),
            anchor=hang,
            row=row,
            y=_LABEL_PX * (len(ends) - row) - 3.0,
            labels=label,
        )
        for (from_m, to_m), hang, row, label in zip(stretches, hangs, rows, labels, strict=True)
    )


_GROUND_WORDS = {
    "any": "any ground",
    "flat": "flat",
    "rolling": "rolling",
    "up": "up",
    "down": "down",
    "drag": "a drag",
    "treadmill": "treadmill",
    "bridge": "a bridge",
    "ramp": "a ramp",
    "steps": "steps",
    "indoors": "indoors",
}


def ground_words(ground: Ground) -> str:
    """Ground in words: ``up at 4 %, the quarry lane``; words that give the grade stand for themselves."""
    if "%" in ground.words:
        return ground.words
    text = _GROUND_WORDS[ground.kind]
    if ground.grade is not None and ground.kind != "flat":
        text += f" at {abs(ground.grade) * 100:.1f}".removesuffix(".0") + "\N{NO-BREAK SPACE}%"
    return f"{text}, {ground.words}" if ground.words else text


def _caption(session: Session, features: Sequence[Feature]) -> Markup:
    if session.role == "race":
        return Markup("The race itself.")
    grounds = dict.fromkeys(ground_words(step.ground) for step in session.steps if step.ground.kind != "any")
    text = words.sentence("; ".join(grounds))
    if not session.rehearses_m:
        return text
    stretches = " and ".join(_stretch_words(*stretch, features) for stretch in session.rehearses_m)
    return Markup(f"{text} Rehearses {stretches} of the race.".strip())


def _stretch_words(from_m: float, to_m: float, features: Sequence[Feature]) -> Markup:
    inside = [
        feature.name
        for feature in features
        if feature.start_m >= from_m - 100 and feature.end_m <= to_m + 100
        if feature.kind not in ("flat", "rolling")
    ]
    where = words.from_to(from_m, to_m)
    return Markup(f"{where} ({escape(', '.join(inside))})") if 0 < len(inside) < 3 else where
