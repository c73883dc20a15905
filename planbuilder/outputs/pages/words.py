"""Sentences in kilometres and in miles, side by side; the page shows one of the two."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from functools import lru_cache

from markupsafe import Markup, escape

from planbuilder.units import (
    MARK,
    MILE_M,
    System,
    say_date,
    say_grade,
    say_height,
    say_in,
    say_length,
    say_minutes,
    say_pace,
    say_pace_band,
    say_place,
    say_run,
    say_time,
    say_weekday,
)

_NO_BREAK = "\N{NO-BREAK SPACE}"
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:km|mi|m|min|s|h|g)\b|%)|(?<=\d h) (?=\d+ min\b)|(?<=[Ee]ffort) (?=\d)"
)
_RANGE = re.compile(r"\d[\d:.]*–\d[\d:.]*\d(?:/(?:km|mi)\b)?|\d[\d:.]*–\d")
_KEPT = 4096  # sentences and quantities come back many times in a block


def span(km: str, mi: str) -> Markup:
    """Both wordings of one quantity, each kept on one line."""
    km, mi = escape(km.replace(" ", _NO_BREAK)), escape(mi.replace(" ", _NO_BREAK))
    return km if km == mi else Markup(f'<span class="km">{km}</span><span class="mi">{mi}</span>')


@lru_cache(maxsize=_KEPT)
def both(text: str) -> Markup:
    """A sentence with its marks in both units, its quantities unbroken; everything else is escaped."""
    kept = _RANGE.sub(r'<span class="n">\g<0></span>', _BEFORE_UNIT.sub(_NO_BREAK, str(escape(text))))
    return Markup(MARK.sub(lambda found: _both_mark(found[0]), kept))


@lru_cache(maxsize=_KEPT)
def _both_mark(mark: str) -> Markup:
    return span(say_in(mark, "km"), say_in(mark, "mi"))


@lru_cache(maxsize=_KEPT)
def sentence(text: str) -> Markup:
    """A sentence that begins with a capital and ends with a full stop."""
    text = text.strip()
    if not text:
        return Markup("")
    if text[0].islower():
        text = text[0].upper() + text[1:]
    return both(text if text[-1] in ".!?:" else text + ".")


def unbroken(name: str) -> str:
    """A name whose initial stays with the name before it: ``Wim D``."""
    before, gap, last = name.rpartition(" ")
    return f"{before}{_NO_BREAK}{last}" if gap and len(last.rstrip(".")) == 1 else name


def heading(text: str) -> Markup:
    """A name that begins a line."""
    return both(text[:1].upper() + text[1:])


@lru_cache(maxsize=_KEPT)
def _in_both(say: Callable[[float, System], str], value: float) -> Markup:
    return span(say(value, "km"), say(value, "mi"))


def run(distance_m: float) -> Markup:
    """A distance to be run, to half a kilometre or mile."""
    return _in_both(say_run, distance_m)


def length(length_m: float) -> Markup:
    """The length of a stretch."""
    return _in_both(say_length, length_m)


def place(position_m: float) -> Markup:
    """A place on the course."""
    return _in_both(say_place, position_m)


def pace(pace_s_per_km: float) -> Markup:
    """One pace."""
    return _in_both(say_pace, pace_s_per_km)


@lru_cache(maxsize=_KEPT)
def pace_band(fast_s_per_km: float, slow_s_per_km: float) -> Markup:
    """A pace band, quick end first."""
    return span(
        say_pace_band(fast_s_per_km, slow_s_per_km, "km"), say_pace_band(fast_s_per_km, slow_s_per_km, "mi")
    )


@lru_cache(maxsize=_KEPT)
def from_to(from_m: float, to_m: float) -> Markup:
    """A stretch of the course: ``km 15.0–16.8``."""
    (_, km), (_, mi) = from_to_pair(from_m, to_m)
    return span(km, mi)


def from_to_pair(from_m: float, to_m: float) -> tuple[tuple[System, str], tuple[System, str]]:
    """The same as plain text with its unit, for pictures, where no span can stand."""
    return (
        ("km", f"km {from_m / 1000:.1f}–{to_m / 1000:.1f}"),
        ("mi", f"mile {from_m / MILE_M:.1f}–{to_m / MILE_M:.1f}"),
    )


def height(height_m: float) -> Markup:
    """A height with its sign: up or down is what a runner asks first."""
    sign = "+" if round(height_m) > 0 else "\N{MINUS SIGN}" if round(height_m) < 0 else ""
    return span(*(sign + say_height(abs(height_m), system) for system in ("km", "mi")))


def grade(fraction: float) -> str:
    """A grade in percent; next to nothing has no sign."""
    return say_grade(round(fraction, 3) + 0.0).replace(" ", _NO_BREAK)


def seconds(value: float) -> str:
    """Seconds gained or lost, with the sign: ``+18 s``."""
    whole = round(value)
    sign = "+" if whole > 0 else "\N{MINUS SIGN}" if whole < 0 else "±"
    return f"{sign}{say_time(abs(whole))}" if abs(whole) >= 100 else f"{sign}{abs(whole)}\N{NO-BREAK SPACE}s"


def effort(rpe: tuple[float, float]) -> str:
    """An effort of 0 to 10: ``6–7`` or ``4``."""
    low, high = rpe
    return f"{low:g}" if low == high else f"{low:g}–{high:g}"


def short_date(date: dt.date) -> str:
    """``Sun 18 Apr``."""
    words = say_date(date).split()
    return f"{say_weekday(date)[:3]} {words[1]} {words[2][:3]}"


def clock(time: dt.time) -> str:
    """``9:30``."""
    return f"{time.hour}:{time.minute:02d}"


def plain_height(height_m: float) -> Markup:
    """A height without a sign."""
    return _in_both(say_height, height_m)


def exact_length(length_m: float) -> Markup:
    """The length of a course, to the metre."""
    return span(f"{length_m / 1000:.3f} km", f"{length_m / MILE_M:.3f} mi")


def seconds_per_unit(cost_s_per_km: float) -> Markup:
    """Seconds gained or lost a kilometre or mile."""
    return span(f"{seconds(cost_s_per_km)}/km", f"{seconds(cost_s_per_km * MILE_M / 1000)}/mi")


@lru_cache(maxsize=_KEPT)
def short_minutes(duration_s: float) -> Markup:
    """A duration, kept on one line."""
    return escape(say_minutes(duration_s).replace(" ", _NO_BREAK))
