"""The ground of the race as a picture: one scale for the race and for every session.

Across, 1000 units are ``width_m`` of running; up, one pixel is always the same number of metres. A session
drawn with the scale of the race can therefore be laid over it. Pixels are those among letters of 16, and a
picture grows with the letters.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from markupsafe import Markup

from planbuilder.course.types import Course, Feature
from planbuilder.outputs.pages import words
from planbuilder.units import MILE_M

ACROSS = 1000.0  # units of the picture across
RACE_HEIGHT_PX = 64.0  # of the race from its lowest to its highest point
LEAST_RANGE_M = 40.0  # a flat course is not blown up into a mountain
_POINTS = 400
_LABEL_PX = 6.6  # mean width of a letter of a label
_PHONE_PX = 340.0  # width of the picture on a phone
_SMALL_PX = 280.0  # and on the smallest
_NARROW_PX = 140.0  # the same in letters twice as large, measured in them
_GAP_PX = 6.0
_ROWS = 4
_TONE_M = 200.0  # a shorter steep bit is not toned

Points = list[tuple[float, float]]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Scale:
    """Metres to units of the picture."""

    width_m: float
    px_per_m: float

    def across(self, position_m: float) -> float:
        """Units from the left edge."""
        return position_m / self.width_m * ACROSS

    def percent(self, position_m: float) -> str:
        """The same in percent, for texts."""
        return f"{position_m / self.width_m * 100:.2f}%"


@dataclass(frozen=True, slots=True)
class Label:
    """A name over the ground."""

    at: str  # percent
    anchor: str  # start, middle or end
    y: float
    leader_y: float
    foot_y: float  # where its leader meets the ground
    text: str
    strong: bool
    close: bool  # it would touch another in large letters on a phone


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on the line of distance."""

    at: str
    text: str
    anchor: str
    close: bool = False  # as of a label


@dataclass(frozen=True, slots=True)
class Shade:
    """A stretch of the ground with its own tone."""

    path: str
    tone: str  # class of the style sheet


@dataclass(frozen=True, slots=True)
class Picture:
    """The race's profile, ready to print."""

    height_px: float
    land_y: float  # where the land begins below the labels
    land_px: float
    base_y: float
    tick_end_y: float
    tick_text_y: float
    land: str  # closed path
    edge: str  # open path along the top of the land
    shades: tuple[Shade, ...]
    labels: tuple[Label, ...]
    ticks_km: tuple[Tick, ...]
    ticks_mi: tuple[Tick, ...]
    splits_km: str  # path of a short stroke at every kilometre, across the land
    splits_mi: str
    alt: Markup


@dataclass(frozen=True, slots=True)
class Land:
    """The course as points of the picture, y counted down from the highest point of the race."""

    scale: Scale
    at_m: tuple[float, ...]
    height_m: tuple[float, ...]
    low_m: float
    high_m: float
    finish_m: float

    @property
    def depth_px(self) -> float:
        """From the highest point down to a little soil under the lowest."""
        return round((self.high_m - self.low_m) * self.scale.px_per_m + 14.0, 1)

    def path(self, from_m: float, to_m: float) -> str:
        """An open path along the ground between two places."""
        return path(self.scale, self.points(from_m, to_m), self.high_m)

    def closed(self, from_m: float, to_m: float, depth_px: float) -> str:
        """The ground between two places, closed at a depth below the highest point."""
        left, right = self.scale.across(from_m), self.scale.across(to_m)
        return f"{self.path(from_m, to_m)}L{right:.1f} {depth_px:.0f}L{left:.1f} {depth_px:.0f}Z"

    def points(self, from_m: float, to_m: float) -> Points:
        """Place and height of the points between two places, both ends included."""
        inside = slice(bisect_right(self.at_m, from_m), bisect_left(self.at_m, to_m))
        inner = zip(self.at_m[inside], self.height_m[inside], strict=True)
        return [(from_m, self.height_at(from_m)), *inner, (to_m, self.height_at(to_m))]

    def height_at(self, position_m: float) -> float:
        """Height above the start on the thinned points."""
        after = min(max(bisect_right(self.at_m, position_m), 1), len(self.at_m) - 1)
        left, right = self.at_m[after - 1], self.at_m[after]
        share = (position_m - left) / (right - left)
        return self.height_m[after - 1] + share * (self.height_m[after] - self.height_m[after - 1])


def land(course: Course, *, width_m: float = 0.0, height_px: float = RACE_HEIGHT_PX) -> Land:
    """The course thinned to what a page can show; ``width_m`` is the longest thing drawn on its scale."""
    at = np.linspace(0.0, course.distance_m, _POINTS + 1)
    heights = np.interp(at, course.at_m, course.height_m)
    low, high = float(heights.min()), float(heights.max())
    scale = Scale(
        width_m=max(width_m, course.distance_m),
        px_per_m=height_px / max(high - low, LEAST_RANGE_M),
    )
    points = without_middles(
        list(zip(at.tolist(), heights.tolist(), strict=True)), off_m=0.25 / scale.px_per_m
    )
    at_m, height_m = zip(*points, strict=True)
    return Land(scale, at_m, height_m, low, high, course.distance_m)


def without_middles(points: Points, *, off_m: float) -> Points:
    """The same line without points that lie within ``off_m`` of a straight between their neighbours."""
    if len(points) < 3:
        return points
    kept = points[:1]
    for here, after in pairwise(points[1:]):
        before = kept[-1]
        level = before[1] + (after[1] - before[1]) * (here[0] - before[0]) / max(after[0] - before[0], 1e-9)
        if abs(level - here[1]) > off_m:
            kept.append(here)
    return kept + points[-1:]


def path(scale: Scale, points: Iterable[tuple[float, float]], top_m: float) -> str:
    """An open path through places and heights; ``top_m`` is the height at y = 0."""
    per_m, wide = scale.px_per_m, ACROSS / scale.width_m
    return "M" + "L".join(f"{at * wide:.1f} {(top_m - high) * per_m:.1f}" for at, high in points)


def picture(land: Land, features: Sequence[Feature], *, grades: bool = False) -> Picture:
    """The profile with its features named; with ``grades`` the steep ground is toned as well."""
    named = _named(land, features)
    depth = max((name.row for name in named), default=-1) + 1
    land_y = 16.0 * depth + 10.0
    land_px = land.depth_px
    apart = _apart(land, named)
    labels = tuple(_label(land, name, depth, land_y, close=name not in apart) for name in named)
    return Picture(
        height_px=land_y + land_px + 20.0,
        land_y=land_y,
        land_px=land_px,
        base_y=land_y + land_px,
        tick_end_y=land_y + land_px + 4.0,
        tick_text_y=land_y + land_px + 15.0,
        land=land.closed(0.0, land.finish_m, 600.0),
        edge=land.path(0.0, land.finish_m),
        shades=_shades(land) if grades else _decisive(land, features, land_px),
        labels=labels,
        ticks_km=_ticks(land, 1000.0),
        ticks_mi=_ticks(land, MILE_M),
        splits_km=_splits(land, 1000.0, land_px) if grades else "",
        splits_mi=_splits(land, MILE_M, land_px) if grades else "",
        alt=_alt(land, features),
    )


def _alt(land: Land, features: Sequence[Feature]) -> Markup:
    names = Markup(", ").join(
        Markup("{} {}").format(feature.name, words.from_to(feature.start_m, feature.end_m))
        for feature in features
    )
    return Markup("Profile of the race, {}: {}.").format(words.length(land.finish_m), names or "level")


def _by_weight(features: Sequence[Feature]) -> list[Feature]:
    """The decisive feature first, then climbs and descents by height, level ground last."""
    return sorted(
        features, key=lambda feature: (not feature.decisive, -abs(feature.gain_m), -feature.length_m)
    )


def anchor(middle_px: float, letters: int, wide_px: float = _PHONE_PX) -> Anchor:
    """Where a label hangs on its place, so that it stays on the picture."""
    half = letters * _LABEL_PX / 2
    return "start" if middle_px < half else "end" if middle_px > wide_px - half else "middle"


def edges(middle_px: float, letters: int, hangs: Anchor) -> tuple[float, float]:
    """Left and right edge of a label, in pixels."""
    wide = letters * _LABEL_PX
    left = {"start": middle_px, "middle": middle_px - wide / 2, "end": middle_px - wide}[hangs]
    return left, left + wide


def on_phone(land: Land, from_m: float, to_m: float, wide_px: float = _PHONE_PX) -> float:
    """The middle of a stretch on a picture so wide, in pixels."""
    return (from_m + to_m) / 2 / land.scale.width_m * wide_px


@dataclass(frozen=True, slots=True)
class _Name:
    """A name with its place on a phone, in pixels."""

    feature: Feature
    row: int  # 0 lies next to the land
    hangs: Anchor
    left: float
    right: float
    foot: float  # where its leader goes down

    def meets(self, other: _Name) -> bool:
        """Whether the two names touch, or the leader of the upper one runs through the lower one."""
        if self.row == other.row:
            return self.left - _GAP_PX < other.right and other.left - _GAP_PX < self.right
        upper, lower = (self, other) if self.row > other.row else (other, self)
        return lower.left - 2 < upper.foot < lower.right + 2


def _named(land: Land, features: Sequence[Feature]) -> list[_Name]:
    """The features that get a name: each in the lowest free row, those without one stay unnamed."""
    placed: list[_Name] = []
    for feature in _by_weight(features):
        foot = on_phone(land, feature.start_m, feature.end_m)
        hangs = anchor(foot, len(feature.name))
        left, right = edges(foot, len(feature.name), hangs)
        tries = (_Name(feature, row, hangs, left, right, foot) for row in range(_ROWS))
        free = next((name for name in tries if not any(name.meets(other) for other in placed)), None)
        if free is not None:
            placed.append(free)
    return sorted(placed, key=lambda name: name.feature.start_m)


def _apart(land: Land, names: Sequence[_Name]) -> list[_Name]:
    """The names that stand clear of each other in letters twice as large, the weightiest first."""
    weight = {feature: place for place, feature in enumerate(_by_weight([name.feature for name in names]))}
    apart: list[_Name] = []
    seen: list[_Name] = []
    for name in sorted(names, key=lambda name: weight[name.feature]):
        foot = on_phone(land, name.feature.start_m, name.feature.end_m, _NARROW_PX)
        left, right = edges(foot, len(name.feature.name), name.hangs)
        narrow = replace(name, left=left, right=right, foot=foot)
        if left >= 0 and right <= _NARROW_PX and not any(narrow.meets(other) for other in seen):
            apart.append(name)
            seen.append(narrow)
    return apart


def _label(land: Land, name: _Name, depth: int, land_y: float, *, close: bool) -> Label:
    feature = name.feature
    middle = (feature.start_m + feature.end_m) / 2
    return Label(
        at=land.scale.percent(middle),
        anchor=name.hangs,
        y=16.0 * (depth - name.row) - 3.0,
        leader_y=16.0 * (depth - name.row),
        foot_y=land_y + (land.high_m - land.height_at(middle)) * land.scale.px_per_m,
        text=feature.name,
        strong=feature.decisive,
        close=close,
    )


def _decisive(land: Land, features: Sequence[Feature], depth_px: float) -> tuple[Shade, ...]:
    return tuple(
        Shade(land.closed(feature.start_m, feature.end_m, depth_px), "marked")
        for feature in features
        if feature.decisive
    )


_TONES = ((0.045, "up3"), (0.025, "up2"), (0.01, "up1"), (-0.01, ""), (-0.025, "down1"), (-0.045, "down2"))


def _tone(grade: float) -> str:
    return next((tone for above, tone in _TONES if grade >= above), "down3")


def _shades(land: Land) -> tuple[Shade, ...]:
    """The land cut where its grade, taken over a few hundred metres, changes tone."""
    count = max(1, round(land.finish_m / _TONE_M))
    places = [land.finish_m * part / count for part in range(count + 1)]
    cuts: list[tuple[float, str]] = []
    for at, next_at in pairwise(places):
        tone = _tone((land.height_at(next_at) - land.height_at(at)) / (next_at - at))
        if not cuts or cuts[-1][1] != tone:
            cuts.append((at, tone))
    ends = [at for at, _ in cuts[1:]] + [land.finish_m]
    return tuple(
        Shade(land.closed(start, end, 600.0), tone)
        for (start, tone), end in zip(cuts, ends, strict=True)
        if tone
    )


def _splits(land: Land, unit_m: float, land_px: float) -> str:
    """Strokes from the ground down to the base at every kilometre or mile."""
    places = (number * unit_m for number in range(1, int(land.finish_m / unit_m) + 1))
    return "".join(
        f"M{land.scale.across(at):.1f} {(land.high_m - land.height_at(at)) * land.scale.px_per_m:.1f}"
        f"V{land_px:.0f}"
        for at in places
    )


def _ticks(land: Land, unit_m: float) -> tuple[Tick, ...]:
    whole = int(land.finish_m / unit_m + 0.02)
    every = next(step for step in (1, 2, 5, 10) if whole / step <= 9) if whole <= 90 else 20
    name = "km" if unit_m == 1000.0 else "miles"
    last = f"{land.finish_m / unit_m:.1f}".removesuffix(".0") + f" {name}"
    phone_px = _SMALL_PX / land.scale.width_m
    free_px = land.finish_m * phone_px - (len(last) + 1) * _LABEL_PX
    ticks = [
        Tick(land.scale.percent(number * unit_m), str(number), "middle")
        for number in range(every, whole + 1, every)
        if number * unit_m * phone_px + len(str(number)) * _LABEL_PX / 2 < free_px
    ]
    return (
        Tick("0%", "start", "start"),
        *_apart_ticks(ticks, len(last)),
        Tick(land.scale.percent(land.finish_m), last, "end"),
    )


def _apart_ticks(ticks: Sequence[Tick], last_letters: int) -> Iterator[Tick]:
    """The same, those told that would touch the one before or the last in letters twice as large."""
    taken, end = len("start") * _LABEL_PX, _NARROW_PX - last_letters * _LABEL_PX
    for tick in ticks:
        middle = float(tick.at.rstrip("%")) / 100 * _NARROW_PX
        left, right = edges(middle, len(tick.text), "middle")
        close = left - _GAP_PX < taken or right + _GAP_PX > end
        taken = taken if close else right
        yield replace(tick, close=close)
