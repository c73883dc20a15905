"""Names and sentences of the ground, and the coach's own in their place.

Receives: features and splits with their numbers.
Gives: the same with names and words that carry unit marks; remarks and stations in race order.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from typing import Final

from planbuilder.course.types import Course, Feature, Remark, Split
from planbuilder.settings.models import RaceSettings, Wording
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.units import System, height_mark, length_mark, say_grade, unit_m

_ONE_NAME: Final = {
    "climb": "climb 1",
    "descent": "descent 1",
    "drag": "drag 1",
    "flat": "the flat",
    "rolling": "rolling ground",
    "downhill_start": "downhill start",
    "hilly_finish": "hilly finish",
    "finish_drag": "finish drag",
}
_LONG_FLAT_SHARE: Final = 0.25
_COUNTER_SHARE: Final = 0.2  # rolling ground with less of the other direction goes one way, gently
_ONE_M: Final = 1.0  # a difference of height worth a figure
_STILL_M: Final = 2.0  # ground that moves less than this is level
_SPLIT_NAME: Final = re.compile(r"(km|mile)\s+(\d+)")


def name_features(features: tuple[Feature, ...], course: Course) -> tuple[Feature, ...]:
    """The same features, each with a name of its own: ``climb 2``, ``the long flat``, ``finish drag``."""
    plain = [_plain_name(feature, course) for feature in features]
    totals, seen = Counter(plain), Counter[str]()
    named = []
    for feature, name in zip(features, plain, strict=True):
        seen[name] += 1
        alone = totals[name] == 1
        if not alone:
            base = name.removeprefix("the ")
            name = f"{base} {seen[name]}"
        elif name in _ONE_NAME:
            name = _ONE_NAME[name]
        named.append(replace(feature, name=name))
    return tuple(named)


def _plain_name(feature: Feature, course: Course) -> str:
    if not course.known:
        return "unknown ground"
    match feature.kind:
        case "flat":
            return "the long flat" if feature.length_m >= _LONG_FLAT_SHARE * course.distance_m else "flat"
        case "rolling" if _falls(feature):
            return "gentle fall"
        case "rolling" if _rises(feature):
            return "gentle rise"
        case kind:
            return kind.replace("_", " ")


def _falls(feature: Feature) -> bool:
    """Whether rolling ground goes down nearly all the way."""
    return feature.gain_m < 0 and feature.ascent_m < -_COUNTER_SHARE * feature.gain_m


def _rises(feature: Feature) -> bool:
    return feature.gain_m > 0 and feature.descent_m < _COUNTER_SHARE * feature.gain_m


def feature_words(feature: Feature, course: Course) -> str:
    """What the ground does over a feature: one sentence with unit marks."""
    length, steepest = length_mark(feature.length_m), say_grade(feature.steepest_grade)
    mean = say_grade(feature.grade)
    slope = f"{mean} all the way" if mean == steepest else f"{mean} on average, {steepest} at most"
    up, down = height_mark(feature.ascent_m), height_mark(feature.descent_m)
    if not course.known:
        return f"{length} of ground nobody has described; taken as rolling."
    match feature.kind:
        case "climb":
            return f"Climbs {height_mark(feature.gain_m)} in {length}, {slope}."
        case "descent":
            return f"Falls {height_mark(-feature.gain_m)} in {length}, {slope}."
        case "drag":
            return f"Drags up {height_mark(feature.gain_m)} in {length}, {mean} on average: easy to overlook."
        case "finish_drag":
            return f"Drags up {height_mark(feature.gain_m)} in the last {length}, {mean} on average."
        case "downhill_start":
            return f"Falls {height_mark(-feature.gain_m)} in the first {length}, {steepest} at its steepest."
        case "hilly_finish":
            return f"The last {length} climb {up} and fall {down}, {steepest} at the steepest."
        case "flat":
            return f"{length} of level ground."
        case "rolling" if _falls(feature):
            return f"Falls {height_mark(-feature.gain_m)} gently in {length}."
        case "rolling" if _rises(feature):
            return f"Rises {height_mark(feature.gain_m)} gently in {length}."
        case _:
            return f"{length} of rolling ground, {up} up and {down} down."


def split_words(split: Split) -> str:
    """What the ground does over one split: one short sentence with unit marks.

    Where it goes one way, the sentence says the difference of height between its ends, as the table does.
    """
    up, down, net = split.ascent_m, split.descent_m, split.net_m
    steep = (
        f", {say_grade(split.steepest_grade)} at the steepest" if abs(split.steepest_grade) >= 0.015 else ""
    )
    if up < _STILL_M and down < _STILL_M:
        return "Level."
    if net >= _ONE_M and (down < _STILL_M or net > 0.8 * (up + down)):
        verb = "Climbs" if split.grade >= 0.015 else "Rises"
        return f"{verb} {height_mark(net)}{steep}."
    if net <= -_ONE_M and (up < _STILL_M or -net > 0.8 * (up + down)):
        return f"Falls {height_mark(-net)}{steep}."
    return f"Up {height_mark(up)} and down {height_mark(down)}{steep}."


def split_name(split: Split, system: System) -> str:
    """``km 12`` or ``mile 7``."""
    return f"{'km' if system == 'km' else 'mile'} {split.number}"


def remarks_of(race: RaceSettings) -> tuple[Remark, ...]:
    """The coach's notes and the stations of a race, in the order of the race."""
    remarks = [
        *(Remark(note.at_m, note.text, station=False) for note in race.notes),
        *(Remark(station.at_m, station.has, station=True) for station in race.stations),
    ]
    return tuple(sorted(remarks, key=lambda remark: (remark.at_m, remark.station)))


def with_wordings(features: tuple[Feature, ...], wordings: tuple[Wording, ...]) -> tuple[Feature, ...]:
    """The features with the coach's sentences in place of ours, matched by name."""
    theirs = {_key(wording.of): wording.text for wording in wordings}
    return tuple(
        replace(feature, words=theirs.get(_key(feature.name), feature.words)) for feature in features
    )


def splits_with_wordings(
    splits: tuple[Split, ...], wordings: tuple[Wording, ...], system: System
) -> tuple[Split, ...]:
    """The splits with the coach's sentences in place of ours, matched by ``km 12`` or ``mile 7``."""
    theirs = {_key(wording.of): wording.text for wording in wordings}
    return tuple(
        replace(split, words=theirs.get(_key(split_name(split, system)), split.words)) for split in splits
    )


def check_wordings(
    race: RaceSettings, course: Course, features: tuple[Feature, ...], file: str = "block.toml"
) -> None:
    """InputProblems for every wording, note or station that names nothing on the course."""
    names = {_key(feature.name): feature.name for feature in features}
    problems = []
    for wording in race.wordings:
        key = _key(wording.of)
        found = _SPLIT_NAME.fullmatch(key)
        if key in names:
            continue
        if found is not None:
            last = -(-course.distance_m // unit_m("km" if found[1] == "km" else "mi"))
            if 1 <= int(found[2]) <= last:
                continue
        problems.append(
            Problem(
                file,
                None,
                "race.wording must name a feature or a split of the course",
                f"not {wording.of[:60]!r}",
                did_you_mean(wording.of, names.values()) or f"The features are: {', '.join(names.values())}.",
            )
        )
    for remark in remarks_of(race):
        if not 0 <= remark.at_m <= course.distance_m + 50:
            what = "race.station" if remark.station else "race.note"
            problems.append(
                Problem(
                    file,
                    None,
                    f"{what} must lie on the course, 0 to {course.distance_m / 1000:g} km",
                    f"not at {remark.at_m / 1000:g} km",
                )
            )
    if problems:
        raise InputProblems(problems)


def _key(name: str) -> str:
    return " ".join(name.lower().split()).removeprefix("the ")
