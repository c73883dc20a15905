"""Everything a person may write in ``edits.toml``: one ``[[edit]]`` table a change.

Receives: the tables of the file.
Gives: validated, frozen edits. ``do`` says which kind an edit is, and so which other words it may hold.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field

from planbuilder.settings.models import (
    Date,
    DistanceM,
    FileName,
    HeightM,
    Name,
    Place,
    Settings,
    Share,
    TemperatureC,
    TimeS,
)

EVERYONE: Final = "everyone"  # in place of a runner: the whole squad


class _Edit(Settings):
    """What all edits share."""

    runner: Name
    """name or key of the runner; everyone: the whole squad (away, easy, or a club night by its date)"""
    on: Date
    """day on which it was written"""
    by: Literal["coach", "runner"] = "coach"
    """whose word it is; a runner's "not today" wins over the coach's"""
    why: str = ""
    """a reason for the runner and the squad; nothing about health"""


class _SessionEdit(_Edit):
    session: Name
    """id of the session, such as w07-long, or the date of a club night"""


class Move(_SessionEdit):
    """Another day."""

    do: Literal["move"]
    """move"""
    to: Date
    """its new day"""


class Swap(_SessionEdit):
    """Two sessions change days."""

    do: Literal["swap"]
    """swap"""
    other: Name = Field(alias="with")
    """id of the other session"""


class Skip(_SessionEdit):
    """It is called off."""

    do: Literal["skip"]
    """skip"""


class Replace(_SessionEdit):
    """Another kind of session."""

    do: Literal["replace"]
    """replace"""
    kind: Name
    """a name of the session library"""
    minutes: Annotated[int, Field(ge=15, le=240)] | None = None
    """how long it lasts in all"""


class Shorten(_SessionEdit):
    """Fewer minutes."""

    do: Literal["shorten"]
    """shorten"""
    minutes: Annotated[int, Field(ge=10, le=240)]
    """how long it lasts in all"""


class Annotate(_SessionEdit):
    """A sentence beside a session."""

    do: Literal["annotate"]
    """annotate"""
    text: Name
    """what the runner is to read; nothing about health"""


class _Range(_Edit):
    first_day: Date = Field(alias="from")
    """first day"""


class AwayFromTraining(_Range):
    """Days away from normal training."""

    do: Literal["away"]
    """away"""
    last_day: Date = Field(alias="to")
    """last day"""
    runs: Annotated[int, Field(ge=0, le=7)] = 2
    """how many runs a week are possible; short ones, but from three on one of them may be longer"""


class Ill(_Range):
    """Illness; coach's page only."""

    do: Literal["ill"]
    """ill"""
    last_day: Date | None = Field(None, alias="to")
    """last day with symptoms; absent: not over yet"""
    fever: bool = True
    """fever, chest symptoms, aching muscles, racing pulse, vomiting or diarrhoea; false: sniffles only"""


class Tired(_Range):
    """Poor sleep, heavy legs, a high pulse at rest; coach's page only."""

    do: Literal["tired"]
    """tired"""
    last_day: Date | None = Field(None, alias="to")
    """last such day; absent: that day alone"""
    hours: Annotated[float, Field(ge=0, le=14)] | None = None
    """sleep a night over these days, in hours, as the runner puts it"""
    worn: bool = False
    """heavy legs and low mood besides poor sleep, or a pulse at rest 7 beats up two mornings in a row"""


class EasyDays(_Range):
    """Days without hard running, for reasons of the runner's own."""

    do: Literal["easy"]
    """easy"""
    last_day: Date | None = Field(None, alias="to")
    """last such day; absent: that day alone"""


class Niggle(_Range):
    """A sore place; coach's page only."""

    do: Literal["niggle"]
    """niggle"""
    last_day: Date | None = Field(None, alias="to")
    """last day on which it was felt; absent: not over yet"""
    place: Place
    """where"""
    pain: Annotated[int, Field(ge=0, le=10)]
    """0 to 10, when running"""
    limping: bool = False
    """limping, swelling, or worse the next morning"""
    cleared: Date | None = None
    """day a licensed practitioner cleared the runner, as the runner states it"""


class NewResult(_Edit):
    """A race or time trial that was run."""

    do: Literal["result"]
    """result"""
    date: Date
    """when"""
    distance_m: DistanceM = Field(alias="distance")
    """distance"""
    time_s: TimeS = Field(alias="time")
    """finish time"""
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
    explained: bool = False
    """a clear reason made it slow: sleep, pacing, a heavy week"""
    confirmed: bool = False
    """a session since then went as planned at the quicker paces"""


class Goal(_Edit):
    """Another goal time."""

    do: Literal["goal"]
    """goal"""
    goal_time_s: TimeS = Field(alias="goal_time")
    """the time hoped for"""


SessionEdit = Move | Swap | Skip | Replace | Shorten | Annotate
Edit = SessionEdit | AwayFromTraining | EasyDays | Ill | Tired | Niggle | NewResult | Goal

EDITS: Final[dict[str, type[Edit]]] = {
    **{"move": Move, "swap": Swap, "skip": Skip, "replace": Replace, "shorten": Shorten},
    **{"annotate": Annotate, "away": AwayFromTraining, "easy": EasyDays, "ill": Ill, "tired": Tired},
    **{"niggle": Niggle, "result": NewResult, "goal": Goal},
}  # by the word after do
