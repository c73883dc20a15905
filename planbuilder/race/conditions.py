"""The day: heat, altitude and wind, in seconds with a reason; and where there is no time goal at all.

Receives: expected conditions, the base time in still, cool air at sea level.
Gives: a ``Day``: how much slower, what to say, whether a time goal is left.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any, Final, Literal

from planbuilder.physiology.altitude import altitude_slow_down
from planbuilder.physiology.heat import HOTTEST_MEASURED_C, heat_slow_down, wet_bulb_globe_c
from planbuilder.race.types import Adjustment
from planbuilder.runner import heat_scale
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, Wind
from planbuilder.settings.notes import Note
from planbuilder.units import height_mark, say_minutes

Heat = Literal["cool", "warm", "no goal", "stop"]
_TOKEN: Final = re.compile(
    r"(?P<temperature>-?\d+(?:\.\d+)?\s*°?\s*[cf])\b"
    r"|(?P<humidity>\d+(?:\.\d+)?\s*%)"
    r"|(?P<wind>(?:(?P<head>head|tail)\s*wind\s*)?(?P<speed>\d+(?:\.\d+)?\s*(?:km/h|mph|m/s))"
    r"(?:\s*(?P<behind>head|tail)\s*wind)?)"
    r"|(?P<altitude>-?\d+(?:\.\d+)?\s*(?:m|metres|meters|ft|feet))(?![a-z/])",
    re.IGNORECASE,
)
_EXAMPLE: Final = '"24C 70%", "24C 70% 1500 m" or "18C 5 m/s head wind"'
_EVERYWHERE: Final = {"from": "0 m", "to": "1000 km"}


def parse_conditions(text: str) -> Conditions:
    """Conditions typed as one line: temperature, humidity, altitude, a wind along the whole course.

    Raises ValueError for anything it does not know, and for the same thing said twice.

    >>> day = parse_conditions("24C 70%")
    >>> day.temperature_c, day.humidity
    (24.0, 0.7)
    """
    found: dict[str, Any] = {}
    rest = text
    for match in _TOKEN.finditer(text):
        kind = str(match.lastgroup if match.lastgroup in ("temperature", "humidity", "altitude") else "wind")
        if kind in found:
            raise ValueError(f"conditions with one {kind}, not two as in {text!r}")
        if kind == "wind":
            speed = re.sub(r"(?<=\d)\s*(?=[a-z])", " ", match["speed"].lower())
            behind = "tail" in {(match["head"] or "").lower(), (match["behind"] or "").lower()}
            found[kind] = [{**_EVERYWHERE, "head": f"-{speed}" if behind else speed}]
        else:
            found[kind] = match[kind].strip()
        rest = rest.replace(match[0], " ", 1)
    if not found or rest.strip(" ,;"):
        raise ValueError(f"conditions such as {_EXAMPLE}, not {text!r}")
    return Conditions.model_validate(found)


@dataclass(frozen=True, slots=True)
class Day:
    """What the conditions do to this runner's race."""

    heat: Heat = "cool"
    wbgt_c: float | None = None
    heat_share: float = 0.0  # of the time in cool air; 0 where the heat leaves no time goal
    altitude_share: float = 0.0  # of the time at sea level
    wind: tuple[Wind, ...] = ()
    notes: tuple[Note, ...] = field(default=())

    @property
    def has_clock(self) -> bool:
        """Whether a time goal is left."""
        return self.heat in ("cool", "warm")

    @property
    def slower(self) -> float:
        """Time on the day over the time in cool air at sea level; the wind is in the terrain."""
        return (1 + self.heat_share) * (1 + self.altitude_share)


def read_day(
    *, conditions: Conditions | None, distance_m: float, cool_time_s: float | None, limits: Limits
) -> Day:
    """What the day does; ``cool_time_s`` is the expected time in cool air, for how long the heat works."""
    if conditions is None:
        return Day()
    notes: list[Note] = []
    heat, wbgt, heat_share = _heat(conditions, distance_m, cool_time_s, limits, notes)
    altitude_share = 0.0
    if conditions.altitude_m is not None:
        height_m = min(max(conditions.altitude_m, -100.0), 3000.0)
        altitude_share = altitude_slow_down(height_m)
        if height_m != conditions.altitude_m:
            notes.append(Note("race.altitude", f"The figures stop at {height_mark(height_m)}.", "caution"))
    return Day(heat, wbgt, heat_share, altitude_share, conditions.wind, tuple(notes))


def _heat(
    conditions: Conditions, distance_m: float, cool_time_s: float | None, limits: Limits, notes: list[Note]
) -> tuple[Heat, float | None, float]:
    if conditions.temperature_c is None:
        return "cool", None, 0.0
    humidity = conditions.humidity
    if humidity is None:
        humidity = limits.number("race.assumed_humidity")
        notes.append(
            Note("race.assumed_humidity", f"No humidity was given; {humidity:.0%} is assumed.", "assumed")
        )
    wbgt = wet_bulb_globe_c(min(max(conditions.temperature_c, -10.0), 50.0), min(max(humidity, 0.0), 1.0))
    no_goal, stop = limits.number("race.heat_no_goal"), limits.number("race.heat_stop")
    figure = f"The wet-bulb globe temperature comes to about {wbgt:.0f} °C"
    if wbgt >= stop:
        advice = f"From {stop:.0f} °C our advice is not to race: ask the organiser, and race another day."
        text = f"{figure}. {advice} {_SIGNS}"
        notes.append(Note("race.heat_stop", text, "caution"))
        return "stop", wbgt, 0.0
    if wbgt >= no_goal:
        text = f"{figure}. From {no_goal:.0f} °C there is no time goal: by effort, one step lower. {_SIGNS}"
        notes.append(Note("race.heat_no_goal", text, "caution"))
        return "no goal", wbgt, 0.0
    warmth: Heat = "cool"
    if wbgt >= limits.number("race.heat_caution"):
        text = f"{figure}: start slower than you would like. {_SIGNS}"
        notes.append(Note("race.heat_caution", text, "caution"))
        warmth = "warm"
    share = heat_slow_down(min(wbgt, HOTTEST_MEASURED_C)) * heat_scale(
        distance_m=distance_m, time_s=cool_time_s or 0.0, limits=limits
    )
    return warmth, wbgt, share


_SIGNS: Final = (
    "Chills, staggering, confusion or vomiting: stop, find shade and cooling, and have someone call the "
    "local emergency number. General guidance, not medical advice; follow the organiser and local rules."
)


def adjustments(
    day: Day, conditions: Conditions | None, *, cool_time_s: float, wind_s: float, limits: Limits
) -> tuple[Adjustment, ...]:
    """Seconds the day adds to ``cool_time_s`` (the time in still, cool air at sea level), each with its
    reason; ``wind_s`` is what the wind adds by itself."""
    if conditions is None:
        return ()
    found: list[Adjustment] = []
    if day.wind:
        found.append(Adjustment("wind", wind_s, _wind_words(day.wind)))
    with_wind_s = cool_time_s + wind_s
    if day.wbgt_c is not None and day.has_clock:
        found.append(Adjustment("heat", with_wind_s * day.heat_share, _heat_words(day, conditions, limits)))
    if conditions.altitude_m is not None:
        seconds = with_wind_s * (1 + day.heat_share) * day.altitude_share
        found.append(Adjustment("altitude", seconds, _altitude_words(conditions.altitude_m)))
    return tuple(found)


def _heat_words(day: Day, conditions: Conditions, limits: Limits) -> str:
    if day.wbgt_c is None or conditions.temperature_c is None:
        return ""
    humidity = limits.number("race.assumed_humidity") if conditions.humidity is None else conditions.humidity
    air = f"{conditions.temperature_c:.0f} °C and {humidity:.0%} humidity"
    if day.heat_share == 0:
        return f"{air}: cool enough, nothing to add"
    return (
        f"{air} make a wet-bulb globe temperature of about {day.wbgt_c:.0f} °C: what leading marathoners "
        "lost against their cool years (Ely et al. 2007), scaled to this race; runners differ"
    )


def _altitude_words(altitude_m: float) -> str:
    return (
        f"at {height_mark(altitude_m)} the air leaves less aerobic power to a runner who lives at sea level "
        "(Péronnet et al. 1991); if you live that high, it costs you less"
    )


def _wind_words(wind: tuple[Wind, ...]) -> str:
    head = any(stretch.head_mps > 0 for stretch in wind)
    advice = "tuck in behind others and run by effort" if head else "do not chase time with it"
    return f"the wind along the exposed ground (Davies 1980): {advice}"


def say_adjustments(found: tuple[Adjustment, ...]) -> str:
    """The sum in words, or an empty string.

    >>> say_adjustments((Adjustment("heat", 62.0, ""), Adjustment("wind", 20.0, "")))
    'heat 62 s, wind 20 s'
    """
    return ", ".join(f"{one.kind} {say_minutes(round(one.seconds))}" for one in found if round(one.seconds))
