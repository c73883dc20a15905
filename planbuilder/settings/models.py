"""Everything a person may write in ``block.toml`` and ``club.toml``: names, types, ranges, meaning.

Receives: the tables of a TOML file.
Gives: validated, frozen settings; values in SI units under names that end in their unit, dates and clock
times as ``datetime`` types. The README table and the JSON Schema for editors are made from the descriptions
here.

Field names are ours; the alias of a field is the word a person writes.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from typing import Annotated, Any, Final, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    WithJsonSchema,
    model_validator,
)
from pydantic_core import core_schema

from planbuilder import units
from planbuilder.settings.written_days import days_meant
from planbuilder.units import System

Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]
SHORTEST_RUN_M: Final = 1000.0  # of a run, and of a week
_LONGEST_PATH: Final = 255  # what file systems take as a name
WEEKDAYS: Final[tuple[Weekday, ...]] = (
    *("monday", "tuesday", "wednesday", "thursday"),
    *("friday", "saturday", "sunday"),
)


@dataclass(frozen=True)
class _Typed:
    """A quantity that a person types as text with its unit, inside a range that makes sense."""

    parse: Callable[[str], float]
    example: str
    least: float
    most: float
    range_words: str

    def _read(self, value: Any) -> float:
        if isinstance(value, str):
            parsed = self.parse(value)
            if not self.least <= parsed <= self.most:
                raise ValueError(f"{self.range_words}, not {value!r}")
            return parsed
        if isinstance(value, bool | int | float):
            raise ValueError(f'text with its unit, such as "{self.example}", not the bare number {value}')
        raise ValueError(f'text such as "{self.example}", not {value!r}')

    def __get_pydantic_core_schema__(self, _source: Any, _handler: GetCoreSchemaHandler) -> Any:
        return core_schema.no_info_plain_validator_function(self._read)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"type": "string", "examples": [self.example]}


def _parse_temperature(text: str) -> float:
    words = text.strip().upper().replace(" ", "").replace("°", "")
    try:
        value = float(words[:-1])
    except ValueError:
        value = float("nan")
    if value != value or words[-1:] not in ("C", "F"):
        raise ValueError(f"a temperature with its unit, such as 24 C or 75 F, not {text!r}")
    return value if words.endswith("C") else (value - 32) / 1.8


def _parse_percent(text: str) -> float:
    words = text.strip().rstrip("%").strip()
    if not text.strip().endswith("%") or not words.replace(".", "", 1).isdigit():
        raise ValueError(f"a share such as 70%, not {text!r}")
    return float(words) / 100


def _parse_speed(text: str) -> float:
    number, _, unit = text.strip().lower().partition(" ")
    scale = {"km/h": 1 / 3.6, "mph": units.MILE_M / 3600, "m/s": 1.0}.get(unit.strip())
    try:
        return float(number) * (scale or float("nan")) if scale else float("x")
    except ValueError:
        raise ValueError(f"a speed with its unit, such as 16 km/h or 10 mph, not {text!r}") from None


def read_clock(value: Any) -> dt.time:
    """A time of day; ValueError for anything else."""
    if isinstance(value, dt.time):
        return value
    if isinstance(value, str):
        try:
            return dt.time.fromisoformat(value if len(value) > 4 else f"0{value}")
        except ValueError:
            pass
    raise ValueError(f'a time of day such as "19:00", not {value!r}')


FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2200  # so that weeks before and after a day are days of the calendar too


def read_date(value: Any, *, such: str = "2027-05-16") -> dt.date:
    """A day of a year that a plan can be about, written in a way that can be one day alone.

    Raises ValueError for anything else.
    """
    found = value if isinstance(value, dt.date) and not isinstance(value, dt.datetime) else None
    if isinstance(value, str):
        with contextlib.suppress(ValueError):
            found = dt.date.fromisoformat(value.strip())
        meant = days_meant(value.strip()) if found is None else ()
        if len(meant) > 1:
            raise ValueError(f"one day alone ({' or '.join(map(str, meant))}), not {value!r}")
        found = meant[0] if meant else found
    if found is None:
        raise ValueError(f"a date such as {such}, not {value!r}")
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise ValueError(f"a date of the years {FIRST_YEAR} to {LAST_YEAR}, not {found}")
    return found


def _read_file(value: Any) -> str:
    if not isinstance(value, str):
        found = f", not {value!r}" if isinstance(value, bool | int | float) else ""
        raise ValueError(f"text in quotes{found}")
    if not value.strip():
        raise ValueError("the name of a file, not an empty text")
    if len(value) > _LONGEST_PATH or not value.isprintable():
        raise ValueError(f"a file name of at most {_LONGEST_PATH} plain letters, not {value[:40]!r}")
    return value


@cache
def _zones() -> frozenset[str]:
    return frozenset(zoneinfo.available_timezones())


def read_zone(value: Any) -> str:
    """The name of a time zone; ValueError, with the nearest name, for anything else."""
    if isinstance(value, str) and value in _zones():
        return value
    places = sorted(zone for zone in _zones() if "/" in zone and not zone.startswith("Etc/"))
    nearest = (get_close_matches(str(value), places, n=1) or ["Europe/Lisbon"])[0]
    raise ValueError(f'a time zone name, an area and a city, such as "{nearest}", not {value!r}')


DistanceM = Annotated[
    float, _Typed(units.parse_distance, "10 km", 1.0, 1_000_000.0, "a distance from 1 m to 1,000 km")
]
PlaceM = Annotated[
    float, _Typed(units.parse_distance, "9.2 km", 0.0, 1_000_000.0, "a place from 0 km to 1,000 km")
]
HeightM = Annotated[
    float, _Typed(units.parse_height, "12 m", -500.0, 9_000.0, "a height from -500 m to 9,000 m")
]
RunM = Annotated[
    float,
    _Typed(
        units.parse_distance,
        "40 km",
        SHORTEST_RUN_M,
        1_000_000.0,
        "a distance of 1 to 1,000 km (m: metres, mi: miles)",
    ),
]
TimeS = Annotated[float, _Typed(units.parse_time, "44:10", 1.0, 360_000.0, "a time from 1 s to 100 h")]
TemperatureC = Annotated[
    float, _Typed(_parse_temperature, "24 C", -40.0, 55.0, "a temperature from -40 C to 55 C")
]
Share = Annotated[float, _Typed(_parse_percent, "70%", 0.0, 1.0, "a share from 0% to 100%")]
SpeedMps = Annotated[float, _Typed(_parse_speed, "16 km/h", -60.0, 60.0, "a speed below 200 km/h")]
Clock = Annotated[
    dt.time, BeforeValidator(read_clock), WithJsonSchema({"type": "string", "examples": ["19:00"]})
]
Date = Annotated[dt.date, BeforeValidator(read_date), WithJsonSchema({"type": "string", "format": "date"})]
Zone = Annotated[
    str, BeforeValidator(read_zone), WithJsonSchema({"type": "string", "examples": ["Europe/Lisbon"]})
]
Name = Annotated[str, Field(min_length=1, max_length=120)]
FileName = Annotated[
    str, BeforeValidator(_read_file), WithJsonSchema({"type": "string", "examples": ["course.gpx"]})
]


def _one_or_more(value: Any) -> Any:
    return value if isinstance(value, list | tuple) else (value,)


def _some_days(days: tuple[Weekday, ...]) -> tuple[Weekday, ...]:
    if not days:
        raise ValueError('a list of at least one day, such as ["tuesday", "saturday"], not an empty one')
    return tuple(dict.fromkeys(days))


class Settings(BaseModel):
    """What all tables share: nothing unknown, nothing changed after reading."""

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        populate_by_name=True,
        defer_build=True,
    )


# The race ------------------------------------------------------------------------------------------------


class CourseFile(Settings):
    """A course file with how it is run."""

    file: FileName
    """path of a GPX or CSV file inside the block folder"""
    laps: Annotated[int, Field(ge=1, le=100)] = 1
    """how many times round"""
    out_and_back: bool = False
    """run to the end of the file and back"""
    reverse: bool = False
    """run the file the other way"""
    from_m: PlaceM | None = Field(None, alias="from")
    """where on the file the race starts"""
    to_m: PlaceM | None = Field(None, alias="to")
    """where on the file the race ends"""


class CoursePoint(Settings):
    """One point of a printed profile."""

    distance_m: PlaceM = Field(alias="distance")
    """distance from the start"""
    elevation_m: HeightM = Field(alias="elevation")
    """height there"""


class CourseStretch(Settings):
    """One stretch of a course told in words."""

    from_m: PlaceM = Field(alias="from")
    """where the stretch begins"""
    to_m: PlaceM = Field(alias="to")
    """where it ends"""
    words: Name
    """what the ground does: "climbs 12 m", "falls 8 m", "flat", "rolling", "climbs at 2 %\""""


class CourseNote(Settings):
    """The coach's own words at a place on the course."""

    at_m: PlaceM = Field(alias="at")
    """place on the course"""
    text: Name
    """what the coach wants said there"""


class Station(Settings):
    """A drink or food station."""

    at_m: PlaceM = Field(alias="at")
    """place on the course"""
    has: Name
    """what is handed out there"""


class Wording(Settings):
    """The coach's sentence in place of a generated one."""

    of: Name
    """which sentence: the name of a feature ("climb 2", "finish drag") or a split ("km 12", "mile 7")"""
    text: Name
    """the coach's sentence"""


class Wind(Settings):
    """Wind along an exposed stretch."""

    from_m: PlaceM = Field(alias="from")
    """where the exposed stretch begins"""
    to_m: PlaceM = Field(alias="to")
    """where it ends"""
    head_mps: SpeedMps = Field(alias="head")
    """head wind along the stretch; negative for a tail wind"""


class Conditions(Settings):
    """The weather and the altitude expected on race day."""

    temperature_c: TemperatureC | None = Field(None, alias="temperature")
    """air temperature in the shade"""
    humidity: Share | None = None
    """relative humidity"""
    altitude_m: HeightM | None = Field(None, alias="altitude")
    """height above sea level"""
    wind: tuple[Wind, ...] = Field((), strict=False)
    """wind along exposed stretches"""


class RaceSettings(Settings):
    """The race everything counts back from."""

    name: Name
    """name of the race"""
    date: Date
    """race day"""
    distance_m: DistanceM = Field(alias="distance")
    """"half marathon", "marathon", "10 km", "13.1 mi\""""
    timezone: Zone
    """IANA name of the zone the race is run in"""
    start_time: Clock = dt.time(9, 0)
    """clock time of the start"""
    place: str = ""
    """where the start is, in words"""
    id: str | None = None
    """fixed key of the block; by default made from the race name"""
    course: FileName | CourseFile | None = None
    """a GPX or CSV file in the block folder, or a table { file, laps, out_and_back, reverse, from, to }"""
    markers: System = "km"
    """what stands at the roadside: "km" or "mi\""""
    published_ascent_m: HeightM | None = Field(None, alias="published_ascent")
    """the organiser's figure for the climb, used as a check only"""
    time_limit_s: TimeS | None = Field(None, alias="time_limit")
    """when the finish closes, counted from the start"""
    minimum_age: Annotated[int, Field(ge=5, le=100)] | None = None
    """the organiser's youngest age for this distance"""
    conditions: Conditions | None = None
    """expected weather"""
    points: tuple[CoursePoint, ...] = Field((), alias="point", strict=False)
    """points of a printed profile, where there is no file"""
    stretches: tuple[CourseStretch, ...] = Field((), alias="stretch", strict=False)
    """a plain description, where there is no profile"""
    notes: tuple[CourseNote, ...] = Field((), alias="note", strict=False)
    """the coach's words at places on the course"""
    stations: tuple[Station, ...] = Field((), alias="station", strict=False)
    """drink and food stations"""
    wordings: tuple[Wording, ...] = Field((), alias="wording", strict=False)
    """the coach's sentences in place of generated ones"""


# Training ------------------------------------------------------------------------------------------------


class ClubNight(Settings):
    """A fixed club session."""

    day: Weekday
    """weekday"""
    time: Clock
    """clock time of the start"""
    place: str = ""
    """meeting place"""
    kind: str | None = None
    """kind of session, a name of the session library; by default the plan chooses"""
    minutes: Annotated[int, Field(ge=20, le=180)] = 75
    """how long the evening lasts in all"""


class TuneUp(Settings):
    """A race before the race."""

    name: Name
    """name of the race"""
    date: Date
    """its day"""
    distance_m: DistanceM = Field(alias="distance")
    """its distance"""
    course: FileName = "flat"
    """"flat", "rolling", "hilly", or a course file in the block folder"""
    climb_m: HeightM | None = Field(None, alias="climb")
    """its ascent, where known"""
    start_time: Clock | None = None
    """clock time of the start"""
    entered: bool = True
    """false: a candidate, the plan says whether it fits"""


class TrainingSettings(Settings):
    """What the squad shares."""

    first_day: Date | None = None
    """first day of the block; by default a Monday: 12 weeks (16 for a marathon), race week the last"""
    club_nights: tuple[ClubNight, ...] = Field((), strict=False)
    """fixed club sessions"""
    nights_off: tuple[Date, ...] = Field((), strict=False)
    """dates on which no club night is held, for anybody; or "off" for the date in the club's file"""
    tune_ups: tuple[TuneUp, ...] = Field((), strict=False)
    """tune-up races, entered or candidates"""
    roster: FileName | None = None
    """path of a roster file (CSV) in the block folder"""
    club: FileName | None = None
    """path of the club.toml that several blocks share"""
    screening_held_by_club: bool = False
    """the coach states that the club holds every runner's health answers"""


# Runners -------------------------------------------------------------------------------------------------


class Result(Settings):
    """A recent race or time trial."""

    distance_m: DistanceM = Field(alias="distance")
    """distance"""
    time_s: TimeS = Field(alias="time")
    """finish time"""
    date: Date
    """when"""
    course: FileName = "flat"
    """"flat", "rolling", "hilly", or a course file in the block folder"""
    climb_m: HeightM | None = Field(None, alias="climb")
    """ascent of that course, where known"""
    temperature_c: TemperatureC | None = Field(None, alias="temperature")
    """air temperature on the day"""
    humidity: Share | None = None
    """relative humidity on the day"""
    effort: Literal["all-out", "hard", "training"] = "all-out"
    """how hard it was run"""


Place = Literal[
    "achilles",
    "calf",
    "plantar",
    "hamstring",
    "knee",
    "shin",
    "quad",
    "hip",
    "back",
    "foot",
    "groin",
    "bone",
    "other",
]


class Injury(Settings):
    """A sore place: where, how much, since when. Shown to the coach only."""

    place: Place
    """where"""
    pain: Annotated[int, Field(ge=0, le=10)]
    """0 to 10, when running"""
    since: Date | None = None
    """first day"""
    limping: bool = False
    """whether the runner limps"""
    cleared: Date | None = None
    """day a licensed practitioner cleared the runner, as the runner states it"""


class Treadmill(Settings):
    """What the machine can do."""

    max_grade_percent: Annotated[float, Field(ge=0, le=40, strict=False)] = 12.0
    """steepest grade in percent"""
    max_speed_mps: SpeedMps = Field(16 / 3.6, alias="max_speed")
    """fastest speed"""
    descent_percent: Annotated[float, Field(ge=0, le=15, strict=False)] = 0.0
    """steepest descent in percent; 0 if it has none"""


class Away(Settings):
    """Days away from normal training."""

    first_day: Date = Field(alias="from")
    """first day away"""
    last_day: Date = Field(alias="to")
    """last day away"""
    runs: Annotated[int, Field(ge=0, le=7)] = 2
    """how many runs a week are possible; short ones, but from three on one of them may be longer"""
    why: str = ""
    """a word for the plan, such as "holiday"; nothing about health"""


class RunnerSettings(Settings):
    """One runner's results, days and needs."""

    name: Name
    """first name and an initial"""
    id: str | None = None
    """fixed key of the runner; by default made from the name"""
    goal_time_s: TimeS | None = Field(None, alias="goal_time")
    """the time hoped for"""
    results: tuple[Result, ...] = Field((), strict=False)
    """recent races"""
    weekly_distance_m: Annotated[tuple[RunM, ...], BeforeValidator(_one_or_more)] = Field(
        (), alias="weekly_distance", strict=False
    )
    """mean of the last 4 weeks, or a list of the last weeks, latest last"""
    longest_run_m: RunM | None = Field(None, alias="longest_run")
    """longest run of the last 30 days"""
    fast_minutes: Annotated[float, Field(ge=0, le=300, strict=False)] | None = None
    """minutes a week at RPE 5 or more, mean of the last 4 weeks"""
    weekly_climb_m: HeightM | None = Field(None, alias="weekly_climb")
    """metres climbed a week, mean of the last 4 weeks"""
    first_day: Date | None = None
    """first day of this runner's block, where it differs from the squad's"""
    days: Annotated[tuple[Weekday, ...], AfterValidator(_some_days)] = Field(
        ("tuesday", "thursday", "saturday", "sunday"), strict=False
    )
    """days on which the runner can run"""
    minutes: dict[Weekday, Annotated[int, Field(ge=15, le=360)]] = Field(default_factory=dict)
    """most minutes on a day, by weekday"""
    times: dict[Weekday, Clock] = Field(default_factory=dict)
    """clock time at which the runner starts on a weekday; such sessions are timed in the calendar"""
    long_run_day: Weekday = "sunday"
    """day of the long run; without Sunday among the days, the last of them"""
    club_nights: tuple[Weekday, ...] | None = Field(None, strict=False)
    """club nights this runner attends; by default those that fall on the runner's days"""
    units: System = "km"
    """"km" or "mi\""""
    age: Annotated[int, Field(ge=5, le=100)] | None = None
    """age on the first day of the block"""
    level: Literal["novice", "intermediate", "club", "advanced"] | None = None
    """by default from the weekly distance"""
    running_months: Annotated[int, Field(ge=0, le=1200)] | None = None
    """months of regular running"""
    screening: Literal["passed", "cleared", "needed"] | None = None
    """health questions: "passed", "cleared" (by a professional), "needed" (clearance); absent: unanswered"""
    injuries: tuple[Injury, ...] = Field((), strict=False)
    """sore places"""
    injured_last_6_months: bool = False
    """a running injury in the last 6 months"""
    hills: bool = True
    """whether there is a hill of a minute or more near home"""
    treadmill: Treadmill | bool = False
    """whether the runner has one, and what it can do"""
    substitutes: tuple[Literal["bridge", "ramp", "steps"], ...] = Field((), strict=False)
    """what stands in for a hill near home"""
    away: tuple[Away, ...] = Field((), strict=False)
    """holidays and travel"""
    tune_ups: tuple[TuneUp, ...] = Field((), strict=False)
    """races of this runner alone"""
    strength: bool = False
    """whether strength sessions are wanted"""
    two_a_day: bool = False
    """whether two runs a day are wanted"""
    easy_days_after_hard: Annotated[int, Field(ge=1, le=3)] | None = None
    """easy days after a hard one; by default one, from 50 two"""
    loaded_weeks: Annotated[int, Field(ge=1, le=3)] | None = None
    """loaded weeks before a lighter one; by default 3, from 50 years on 2"""
    first_at_distance: bool = False
    """the first race at this distance"""
    max_heart_rate: Annotated[int, Field(ge=100, le=230)] | None = None
    """measured, never from a formula"""
    start_offset_s: TimeS | None = Field(None, alias="start_offset")
    """how long after the gun this runner's wave starts"""
    strategy: Literal["even effort", "hold back", "pace group"] = "even effort"
    """how the race is to be run"""
    reminder: bool = False
    """a reminder in the calendar the evening before"""
    busy: bool = False
    """whether timed sessions block the calendar"""
    page_link: bool = False
    """whether the calendar carries the address of the runner's page"""

    @model_validator(mode="before")
    @classmethod
    def _long_run_on_a_running_day(cls, data: Any) -> Any:
        """Without Sunday among the days, and without a word on it, the long run has the last of them."""
        if (
            not isinstance(data, dict)
            or "long_run_day" in data
            or not isinstance(data.get("days"), list | tuple)
        ):
            return data
        days = [day for day in data["days"] if day in WEEKDAYS]
        if not days or "sunday" in days:
            return data
        return {**data, "long_run_day": max(days, key=WEEKDAYS.index)}


class ClubSettings(Settings):
    """club.toml: what several blocks share."""

    club_nights: tuple[ClubNight, ...] = Field((), strict=False)
    """fixed club sessions"""
    nights: dict[str, str] = Field(default_factory=dict)
    """what the coach typed for a night: "2027-03-02" = "8 x 3 min, 90 s jog, canal", or "off\""""


class BlockSettings(Settings):
    """block.toml."""

    race: RaceSettings
    """the race"""
    training: TrainingSettings = Field(default_factory=lambda: TrainingSettings())
    """what the squad shares"""
    runners: tuple[RunnerSettings, ...] = Field((), alias="runner", strict=False)
    """the runners, unless a roster is given"""
    limits: dict[str, dict[str, Any]] = Field(default_factory=dict)
    """numbers the coach changes: [limits.load] single_run_cap = 1.15"""
