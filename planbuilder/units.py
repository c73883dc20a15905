"""Distances, times and paces as people write them, and as people read them.

Receives: text typed by a person, or numbers in SI units (metres, seconds).
Gives: numbers in SI units, or text in kilometres or miles.

Sentences made anywhere in the house carry their quantities as *marks*, small tokens such as ``{d:16000}``,
because the same sentence is read in kilometres by one runner and in miles by the next. ``say_in`` turns the
marks into words at the door; a sentence that leaves the house with a mark in it is a mistake.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from typing import Final, Literal, get_args

System = Literal["km", "mi"]
SYSTEMS: Final[tuple[System, ...]] = get_args(System)

MILE_M: Final = 1609.344  # international mile, exact
FOOT_M: Final = 0.3048  # exact
YARD_M: Final = 0.9144  # exact
HALF_MARATHON_M: Final = 21097.5  # World Athletics, exact
MARATHON_M: Final = 42195.0  # World Athletics, exact

_NAMED_DISTANCES: Final = {
    "half marathon": HALF_MARATHON_M,
    "half": HALF_MARATHON_M,
    "marathon": MARATHON_M,
    "mile": MILE_M,
}
UNIT_M: Final = {
    "km": 1000.0,
    "k": 1000.0,
    "kilometre": 1000.0,
    "kilometres": 1000.0,
    "kilometer": 1000.0,
    "kilometers": 1000.0,
    "mi": MILE_M,
    "mile": MILE_M,
    "miles": MILE_M,
    "m": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "ft": FOOT_M,
    "foot": FOOT_M,
    "feet": FOOT_M,
    "yd": YARD_M,
    "yards": YARD_M,
}
_HYPHEN: Final = re.compile(r"(?<=[a-z0-9])-(?=[a-z])")  # half-marathon, 10-km; never a minus
_QUANTITY: Final = re.compile(r"(-?\d+(?:\.\d+)?)\s*([a-z]+)")
_CLOCK: Final = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):(\d{2})(?:\.(\d))?")
_MINUTES: Final = re.compile(r"(?:(\d+)\s*h\s*)?(\d+)\s*min")


def parse_distance(text: str) -> float:
    """Metres of a distance such as ``10 km``, ``13.1 mi``, ``800 m`` or ``half marathon``.

    Raises ValueError where the text has no unit, is less than nothing or is no distance.

    >>> parse_distance("half marathon"), parse_distance("10k"), parse_distance("1 mi")
    (21097.5, 10000.0, 1609.344)
    """
    words = " ".join(_HYPHEN.sub(" ", text.strip().lower()).split())
    if words in _NAMED_DISTANCES:
        return _NAMED_DISTANCES[words]
    found = _QUANTITY.fullmatch(words)
    if found is None or found[2] not in UNIT_M or found[1].startswith("-"):
        raise ValueError(f"a distance with its unit, such as 10 km, 13.1 mi or half marathon, not {text!r}")
    return float(found[1]) * UNIT_M[found[2]]


def parse_height(text: str) -> float:
    """Metres of a height such as ``12 m`` or ``40 ft``; may be negative. Raises ValueError as above."""
    found = _QUANTITY.fullmatch(" ".join(text.strip().lower().replace("\N{MINUS SIGN}", "-").split()))
    if found is None or found[2] not in ("m", "metre", "metres", "meter", "meters", "ft", "feet"):
        raise ValueError(f"a height with its unit, such as 12 m or 40 ft, not {text!r}")
    return float(found[1]) * UNIT_M[found[2]]


def parse_time(text: str) -> float:
    """Seconds of a duration such as ``1:38:00``, ``44:10``, ``44:10.5``, ``90 min`` or ``1 h 30 min``.

    Raises ValueError for anything else: a pace, minutes or seconds above 59.

    >>> parse_time("1:38:00"), parse_time("44:10"), parse_time("1 h 30 min")
    (5880.0, 2650.0, 5400.0)
    """
    words = text.strip().lower()
    if "/" in words:
        raise ValueError(f"a time such as 1:38:00 or 44:10, not the pace {text!r}")
    if found := _MINUTES.fullmatch(words):
        return int(found[1] or 0) * 3600.0 + int(found[2]) * 60.0
    found = _CLOCK.fullmatch(words)
    if found is None:
        raise ValueError(f"a time such as 1:38:00 or 44:10, not {text!r}")
    hours, minutes, seconds = int(found[1] or 0), int(found[2]), int(found[3])
    if seconds > 59 or (found[1] is not None and minutes > 59):
        raise ValueError(f"a time with minutes and seconds below 60, such as 1:38:00, not {text!r}")
    return hours * 3600.0 + minutes * 60.0 + seconds + int(found[4] or 0) / 10


def count_of(number: int, noun: str, several: str = "") -> str:
    """A number with its noun; several: the noun in the plural, by default with an s.

    >>> count_of(1, "point"), count_of(1200, "point"), count_of(2, "match", "matches")
    ('1 point', '1,200 points', '2 matches')
    """
    return f"{number:,} {noun if number == 1 else several or noun + 's'}"


def unit_m(system: System) -> float:
    """Metres of one kilometre or one mile."""
    return 1000.0 if system == "km" else MILE_M


def say_time(seconds: float) -> str:
    """A duration as a race clock shows it.

    >>> say_time(5880), say_time(2650.4), say_time(59)
    ('1:38:00', '44:10', '0:59')
    """
    whole = math.floor(seconds + 0.5)
    hours, rest = divmod(whole, 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}" if hours else f"{rest // 60}:{rest % 60:02d}"


def in_minutes(seconds: float) -> int:
    """A length in whole minutes, half a minute up: the one rounding of all pages, tables and feeds.

    >>> in_minutes(3510), in_minutes(3509), in_minutes(3570)
    (59, 58, 60)
    """
    return math.floor(seconds / 60 + 0.5)


def say_minutes(seconds: float) -> str:
    """A training duration in words.

    >>> say_minutes(5400), say_minutes(90), say_minutes(45), say_minutes(600)
    ('1 h 30 min', '90 s', '45 s', '10 min')
    """
    if seconds < 120 and seconds % 60:
        return f"{round(seconds)} s"
    minutes = in_minutes(seconds)
    if seconds % 60 and seconds < 600:
        whole = math.floor(seconds + 0.5)
        return f"{whole // 60} min {whole % 60} s" if whole % 60 else f"{whole // 60} min"
    hours, minutes = divmod(minutes, 60)
    if not hours:
        return f"{minutes} min"
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def say_pace(pace_s_per_km: float, system: System) -> str:
    """A pace with its unit.

    >>> say_pace(300, "km"), say_pace(300, "mi")
    ('5:00/km', '8:03/mi')
    """
    return f"{say_time(pace_s_per_km * unit_m(system) / 1000)}/{system}"


def say_pace_band(fast_s_per_km: float, slow_s_per_km: float, system: System) -> str:
    """A pace band, quick end first.

    >>> say_pace_band(300, 315, "km")
    '5:00–5:15/km'
    """
    scale = unit_m(system) / 1000
    fast, slow = say_time(fast_s_per_km * scale), say_time(slow_s_per_km * scale)
    return f"{fast}/{system}" if fast == slow else f"{fast}–{slow}/{system}"


def say_run(distance_m: float, system: System) -> str:
    """A distance to be run, to half a kilometre or half a mile.

    >>> say_run(16240, "km"), say_run(16240, "mi"), say_run(12500, "km")
    ('16 km', '10 mi', '12.5 km')
    """
    halves = math.floor(distance_m / unit_m(system) * 2 + 0.5)
    return f"{halves // 2}.5 {system}" if halves % 2 else f"{halves // 2} {system}"


def say_length(length_m: float, system: System) -> str:
    """The length of a stretch of ground: metres or yards when short, else one decimal.

    >>> say_length(420, "km"), say_length(420, "mi"), say_length(3260, "km")
    ('420 m', '460 yd', '3.3 km')
    """
    if length_m < unit_m(system) - 5:
        step = length_m if system == "km" else length_m / YARD_M
        return f"{math.floor(step / 10 + 0.5) * 10} {'m' if system == 'km' else 'yd'}"
    return f"{length_m / unit_m(system):.1f} {system}"


def say_place(position_m: float, system: System) -> str:
    """A place on the course.

    >>> say_place(17300, "km"), say_place(17300, "mi")
    ('km 17.3', 'mile 10.7')
    """
    return f"{'km' if system == 'km' else 'mile'} {position_m / unit_m(system):.1f}"


def say_height(height_m: float, system: System) -> str:
    """A climb or a height.

    >>> say_height(31.4, "km"), say_height(31.4, "mi")
    ('31 m', '103 ft')
    """
    return f"{round(height_m)} m" if system == "km" else f"{round(height_m / FOOT_M)} ft"


def say_climb_rate(climb_m_per_km: float, system: System) -> str:
    """How much a course climbs.

    >>> say_climb_rate(3.8, "km"), say_climb_rate(3.8, "mi"), say_climb_rate(15, "km")
    ('3.8 m a kilometre', '20 ft a mile', '15 m a kilometre')
    """
    if system == "mi":
        return f"{climb_m_per_km * MILE_M / 1000 / FOOT_M:.0f} ft a mile"
    return f"{climb_m_per_km:.1f}".removesuffix(".0") + " m a kilometre"


def say_grade(grade: float) -> str:
    """A grade, given as a fraction, in percent.

    >>> say_grade(0.034), say_grade(-0.02), say_grade(-0.0001)
    ('3.4 %', '−2 %', '0 %')
    """
    percent = round(grade * 100, 1) + 0.0  # no minus before a zero
    return f"{percent:g} %".replace("-", "\N{MINUS SIGN}")


def say_effort(effort_rpe: tuple[float, float]) -> str:
    """An effort from 0 to 10, or from one to another.

    >>> say_effort((4, 4)), say_effort((6, 7))
    ('4', '6–7')
    """
    low, high = effort_rpe
    return f"{low:g}" if low == high else f"{low:g}–{high:g}"


_WEEKDAYS: Final = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS: Final = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def say_weekday(date: dt.date) -> str:
    """The English name of the day, whatever the machine's locale."""
    return _WEEKDAYS[date.weekday()]


def say_date(date: dt.date, *, year: bool = False) -> str:
    """A date as people say it, whatever the machine's locale.

    >>> say_date(dt.date(2027, 4, 18)), say_date(dt.date(2027, 4, 18), year=True)
    ('Sunday 18 April', 'Sunday 18 April 2027')
    """
    return f"{say_weekday(date)} {date.day} {_MONTHS[date.month - 1]}" + (f" {date.year}" if year else "")


# Quantities inside sentences -----------------------------------------------------------------------------


def run_mark(distance_m: float) -> str:
    """The mark of a distance to be run (printed to half a kilometre or mile)."""
    return f"{{d:{distance_m:.0f}}}"


def apart_marks(one_m: float, other_m: float) -> tuple[str, str]:
    """The marks of two distances to be run that are compared: with decimals where both would print alike.

    >>> [say_in(" > ".join(apart_marks(18400, most)), "km") for most in (17600, 18200, 18370)]
    ['18.5 km > 17.5 km', '18.4 km > 18.2 km', '18.40 km > 18.37 km']
    """
    for kind in ("d", "d1"):
        one, other = f"{{{kind}:{one_m:.0f}}}", f"{{{kind}:{other_m:.0f}}}"
        if all(say_in(one, system) != say_in(other, system) for system in SYSTEMS):
            return one, other
    return f"{{d2:{one_m:.0f}}}", f"{{d2:{other_m:.0f}}}"


def length_mark(length_m: float) -> str:
    """The mark of the length of a stretch of ground."""
    return f"{{l:{length_m:.0f}}}"


def place_mark(position_m: float) -> str:
    """The mark of a place on the course."""
    return f"{{at:{position_m:.0f}}}"


def height_mark(height_m: float) -> str:
    """The mark of a climb or a height."""
    return f"{{h:{height_m:.1f}}}"


def climb_rate_mark(climb_m_per_km: float) -> str:
    """The mark of how much a course climbs."""
    return f"{{c:{climb_m_per_km:.2f}}}"


def pace_mark(pace_s_per_km: float) -> str:
    """The mark of a pace."""
    return f"{{p:{pace_s_per_km:.1f}}}"


def pace_band_mark(fast_s_per_km: float, slow_s_per_km: float) -> str:
    """The mark of a pace band."""
    return f"{{pb:{fast_s_per_km:.1f}|{slow_s_per_km:.1f}}}"


MARK: Final = re.compile(r"\{(d[12]?|l|at|h|c|p|pb):(-?[0-9.]+)(?:\|(-?[0-9.]+))?\}")


def say_mark(found: re.Match[str], system: System) -> str:
    """The words of one mark matched by ``MARK``."""
    kind, value = found[1], float(found[2])
    match kind:
        case "d":
            return say_run(value, system)
        case "d1" | "d2":
            return f"{value / unit_m(system):.{kind[1]}f} {system}"
        case "l":
            return say_length(value, system)
        case "at":
            return say_place(value, system)
        case "h":
            return say_height(value, system)
        case "c":
            return say_climb_rate(value, system)
        case "p":
            return say_pace(value, system)
        case _:
            return say_pace_band(value, float(found[3] or value), system)


def say_in(text: str, system: System) -> str:
    """The sentence with every mark in the reader's units.

    >>> say_in("Run {d:16000}, easy at {p:330}; the climb at {at:17300} gains {h:31}.", "mi")
    'Run 10 mi, easy at 8:51/mi; the climb at mile 10.7 gains 102 ft.'
    """
    return MARK.sub(lambda found: say_mark(found, system), text)
