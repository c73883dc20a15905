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
from planbuilder.physiology.wind import STRONGEST_WIND_MPS
from planbuilder.race.types import Adjustment
from planbuilder.runner import heat_scale
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, Wind
from planbuilder.settings.notes import Note
from planbuilder.settings.toml_lines import parse_model
from planbuilder.units import MILE_M, height_mark, say_minutes

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

    Raises ValueError for anything it does not know, for the same thing said twice, and for a value that no
    race has.

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
    read, problems = parse_model(Conditions, found, {}, shown_as="conditions")
    if read is None:
        said = (f"{one.must.partition(' must be ')[2]}, {one.found}" for one in problems)
        raise ValueError("; ".join(said))
    return read


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
    notes += [*_cold_notes(conditions, limits), *_wind_notes(conditions, limits)]
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
            Note(
                "race.assumed_humidity", f"No humidity was given; {_percent(humidity)} is assumed.", "assumed"
            )
        )
    wbgt = wet_bulb_globe_c(min(max(conditions.temperature_c, -10.0), 50.0), min(max(humidity, 0.0), 1.0))
    no_goal, stop = limits.number("race.heat_no_goal"), limits.number("race.heat_stop")
    figure = f"The wet-bulb globe temperature comes to about {wbgt:.1f} °C"
    if wbgt >= stop:
        advice = f"From {stop:.0f} °C on our advice is not to race: ask the organiser, and race another day."
        text = f"{figure}. {advice} {_SIGNS}"
        notes.append(Note("race.heat_stop", text, "caution"))
        return "stop", wbgt, 0.0
    if wbgt >= no_goal:
        advice = f"From {no_goal:.0f} °C on there is no time goal: run by effort, one step lower."
        text = f"{figure}. {advice} {_SIGNS}"
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


_HELP: Final = "and have someone call the local emergency number"
_GENERAL: Final = "General guidance, not medical advice; follow the organiser and local rules."
_SIGNS: Final = (
    f"Chills, staggering, confusion or vomiting: stop, find shade and cooling, {_HELP}. {_GENERAL}"
)


def _cold_notes(conditions: Conditions, limits: Limits) -> tuple[Note, ...]:
    cold = conditions.temperature_c
    if cold is None or cold > limits.number("race.cold_caution"):
        return ()
    text = (
        f"At {_degrees(cold)} cover hands, ears and face, run by effort, and keep dry clothes for the end; "
        "look out for ice. Wind makes it colder. Numb or white skin, shivering that does not stop, or "
        f"confusion: stop, get warm, {_HELP}. {_GENERAL}"
    )
    return (Note("race.cold_caution", text, "caution"),)


def _wind_notes(conditions: Conditions, limits: Limits) -> tuple[Note, ...]:
    strongest = max((abs(stretch.head_mps) for stretch in conditions.wind), default=0.0)
    notes: list[Note] = []
    if strongest > STRONGEST_WIND_MPS:
        stops = (
            f"The figures stop at a wind of {_speed(STRONGEST_WIND_MPS)}; what is beyond it is not counted."
        )
        notes.append(Note("race.wind", stops, "caution"))
    if strongest >= limits.number("race.gale"):
        gale = (
            f"From {_speed(limits.number('race.gale'))} on the wind is a gale: ask the organiser whether the "
            "race goes ahead. Run safe rather than fast, or not at all."
        )
        notes.append(Note("race.gale", gale, "caution"))
    return tuple(notes)


def _speed(speed_mps: float) -> str:
    return f"{speed_mps * 3.6:.0f} km/h ({speed_mps * 3600 / MILE_M:.0f} mph)"


def _degrees(temperature_c: float) -> str:
    return f"{round(temperature_c)} °C".replace("-", "\N{MINUS SIGN}")


def _percent(share: float) -> str:
    return f"{share * 100:.0f} %"


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
    air = f"{_degrees(conditions.temperature_c)} and {_percent(humidity)} humidity"
    if conditions.temperature_c <= limits.number("race.cold_caution"):
        return f"{_degrees(conditions.temperature_c)}: no published figure says what such cold costs"
    if day.heat_share == 0:
        return f"{air}: cool enough, nothing to add"
    return (
        f"{air} make a wet-bulb globe temperature of about {day.wbgt_c:.1f} °C: what leading marathoners "
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
    """Each that is worth a word, or an empty string.

    >>> say_adjustments((Adjustment("heat", 62.0, ""), Adjustment("wind", -140.0, "")))
    'heat 62 s slower, wind 2 min 20 s quicker'
    """
    return ", ".join(f"{one.kind} {say_change(one.seconds)}" for one in found if round(one.seconds))


def say_change(seconds: float) -> str:
    """A change of the time in words.

    >>> say_change(-30.2), say_change(0.2)
    ('30 s quicker', 'no change')
    """
    if not round(seconds):
        return "no change"
    return f"{say_minutes(abs(round(seconds)))} {'slower' if seconds > 0 else 'quicker'}"
