"""What stands in ``sessions.toml``: one table a kind of session, in the package and in a block folder.

Receives: the tables of the file.
Gives: ``SessionTemplate``, validated and frozen.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, Field, create_model, model_validator

from planbuilder.settings.models import Name, Settings

PhaseName = Literal["base", "build", "specific", "taper", "after"]
RaceKind = Literal["5 km", "10 km", "half marathon", "marathon"]
Shape = Literal[
    "easy",  # one easy stretch
    "strides",  # an easy run with short quick runs in it
    "repeats",  # warm-up, main set, cool-down
    "continuous",  # warm-up, one stretch, cool-down
    "progression",  # quicker by thirds
    "downhill_start",  # down at goal effort, then straight on
    "rolling",  # a long run over many small climbs
    "hill_finish",  # a long run, flat first, then up
    "late_descent",  # a long run that comes down late, at easy effort
    "simulation",  # the late part of the race in its order
    "long_goal",  # a long run with stretches at goal effort
    "walk_run",  # walking and running by turns
    "strength",  # exercises
    "cross_training",  # another sport
    "tune_up",  # a race before the race
    "test",  # a time trial
]
Banned = Literal["uphill", "downhill", "fast", "hops", "all_out", "race"]
Substitute = Literal["bridge", "ramp", "treadmill", "steps"]
Answers = Literal[
    "downhill_start",
    "early_hills",
    "long_flat",
    "rolling",
    "late_climb",
    "hilly_finish",
    "finish_drag",
    "long_descent",
    "net_downhill",
    "downhill_race",
]
BandName = Literal[
    "recovery",
    "easy",
    "long",
    "steady",
    "marathon effort",
    "half-marathon effort",
    "threshold",
    "10 km effort",
    "intervals",
    "repetitions",
    "strides",
    "race effort",  # the goal race's own flat-equivalent band
]
BandWord = Literal["", BandName]


_LEVELS = ("novice", "intermediate", "club", "advanced")


def _in_order(value: tuple[float, float]) -> tuple[float, float]:
    if not 0 <= value[0] <= value[1]:
        raise ValueError(f"[low, high] with low not above high, not {list(value)}")
    return value


def _an_effort(value: tuple[float, float]) -> tuple[float, float]:
    if value[1] > 10:
        raise ValueError(f"an effort from 0 to 10, not {list(value)}")
    return value


Range = Annotated[tuple[float, float], Field(strict=False), AfterValidator(_in_order)]
Effort = Annotated[Range, AfterValidator(_an_effort)]


class Doses(Settings):
    """A range for each level of runner."""

    novice: Range
    """[low, high] for novices"""
    intermediate: Range
    """[low, high] for intermediate runners"""
    club: Range
    """[low, high] for club runners"""
    advanced: Range | None = None
    """[low, high] for advanced runners; as club where absent"""

    def of(self, level: str) -> tuple[float, float]:
        """The range of a level."""
        found: tuple[float, float] | None = getattr(self, level)
        return found if found is not None else self.club


class RaceDose(Settings):
    """What changes with the distance of the goal race."""

    effort: Effort
    """RPE of the main set"""
    work_minutes: Doses
    """minutes of the main set in all"""
    repeats: Range
    """how many repeats"""
    repeat_seconds: Range
    """how long one repeat lasts"""
    recovery_seconds: Range
    """how long one recovery lasts"""
    most_of_race: Annotated[float, Field(gt=0, le=1.2)] = 1.0
    """the main set as a share of the expected race time, at most"""


class NotWhen(Settings):
    """When the session is left out."""

    places: tuple[Name, ...] = Field((), strict=False)
    """sore places that rule it out, as in the runner's injuries"""
    pain: Annotated[int, Field(ge=1, le=10)] | None = None
    """from this pain on, 1 to 10, until a practitioner has cleared it"""
    novice_weeks: Annotated[int, Field(ge=0, le=52)] = 0
    """weeks of regular running a novice needs first"""
    days_before_race: Annotated[int, Field(ge=0, le=60)] = 0
    """left out in the last days before the race"""
    words: str = ""
    """anything else, in a coach's words: the runner reads them beside the session"""


class SessionTemplate(Settings):
    """One kind of session."""

    name: Name
    """the name of its table"""
    title: Name
    """what the runner reads, without sizes"""
    purpose: Annotated[str, Field(min_length=10, max_length=240)]
    """what it is for, one sentence"""
    shape: Shape
    """how it is built"""
    phases: Annotated[tuple[PhaseName, ...], Field(strict=False, min_length=1)]
    """phases it belongs to"""
    counts_as: Literal["easy", "work", "hard", "race", "none"]
    """how it counts: easy, work below RPE 6, hard, a race or test, or no running at all"""
    key: bool = False
    """whether the week is built around it"""
    mark: Literal["published", "common practice", "our choice within it", "from memory"] = "common practice"
    """where its numbers come from"""
    source: str = ""
    """which publication, where there is one, and what it says"""
    band: BandWord = ""
    """pace band of the main part; empty: by effort alone"""
    effort: Effort
    """RPE of the main part, [low, high]"""
    effort_by_phase: dict[PhaseName, Effort] = Field(default_factory=dict)
    """RPE of the main part where a phase differs"""
    ground: Literal["any", "flat", "rolling", "up", "down", "drag"] = "any"
    """ground of the main part"""
    grade_percent: Range | None = None
    """usual grade of that ground, percent, without a sign"""
    minutes: Doses | None = None
    """length of the whole session; with a main part, the easy running before it fills this time"""
    work_minutes: Doses | None = None
    """length of the main part in all"""
    repeats: Doses | None = None
    """how many repeats"""
    repeat_seconds: Doses | None = None
    """how long one repeat lasts"""
    recovery_seconds: Range | None = None
    """how long one recovery lasts"""
    recovery_share: Range | None = None
    """or: one recovery as a multiple of the repeat"""
    recovery_words: str = "easy jog"
    """how to recover"""
    crest_seconds: Annotated[float, Field(ge=0, le=300, strict=False)] = 0.0
    """how long the effort is held on the level after each climb"""
    up_and_down: bool = False
    """odd repeats up, even ones down"""
    warm_up: Literal["none", "easy", "standard", "hill", "downhill"] = "none"
    """warm-up"""
    cool_down: Literal["none", "short", "standard"] = "none"
    """cool-down"""
    races: dict[RaceKind, RaceDose] = Field(default_factory=dict)
    """doses that depend on the goal race"""
    dose: dict[PhaseName, Annotated[float, Field(ge=0, le=1)]] = Field(default_factory=dict)
    """where in the dose range a phase begins, 0 low end to 1 high end"""
    grows: Annotated[float, Field(ge=0, le=1)] = 0.15
    """how much of the range is added each time it comes again"""
    progression: str = ""
    """how it grows, in words"""
    not_when: NotWhen = Field(default_factory=lambda: NotWhen())
    """when to leave it out"""
    needs: tuple[Banned, ...] = Field((), strict=False)
    """what it asks of the body: left out for a runner who must avoid it"""
    instead: str = ""
    """the kind that stands in when it is left out"""
    substitutes: tuple[Substitute, ...] = Field((), strict=False)
    """what may stand in for missing ground, best first"""
    answers: tuple[Answers, ...] = Field((), strict=False)
    """demands of a course it prepares for"""
    course_specific: bool = False
    """whether grade, length or place in the run come from the goal course"""
    doing: str = ""
    """what the main part is, after its length: "12 min at threshold effort\""""
    cue: str = ""
    """what to think of while running"""
    focus: tuple[Name, ...] = Field((), strict=False)
    """what to think of the second time, the third, and so on, in turn"""
    caution: str = ""
    """what to beware of"""

    @model_validator(mode="after")
    def _sensible(self) -> Self:
        """No dose is so small that nothing can be run."""
        for key, least in (("minutes", 5), ("work_minutes", 0.5), ("repeats", 1), ("repeat_seconds", 5)):
            doses = getattr(self, key)
            low = min((doses.of(level)[0] for level in _LEVELS), default=least) if doses else least
            if low < least:
                raise ValueError(f"one whose {key} begin at {least:g} or more, not {low:g}")
        return self

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """The shape has the numbers it needs."""
        needed = {
            "easy": ("minutes",),
            "strides": ("minutes", "repeats", "repeat_seconds", "recovery_seconds"),
            "repeats": ("work_minutes", "repeats", "repeat_seconds"),
            "continuous": ("work_minutes",),
            "progression": ("minutes",),
            "walk_run": ("minutes", "repeats"),
            "strength": ("minutes",),
            "cross_training": ("minutes",),
        }.get(self.shape, ())
        if self.races and self.shape in ("repeats", "long_goal"):
            needed = ()
        missing = [key for key in needed if getattr(self, key) is None]
        if missing:
            raise ValueError(f"complete: the shape {self.shape} needs {', '.join(missing)}")
        if self.shape == "repeats" and not (self.races or self.recovery_seconds or self.recovery_share):
            raise ValueError("complete: repeats need recovery_seconds or recovery_share")
        if self.counts_as == "easy" and self.shape == "easy" and self.effort[1] > 4:
            raise ValueError(f"easy when it counts as easy: effort at most 4, not {self.effort[1]:g}")
        if self.counts_as == "hard" and self.warm_up == "none" and self.shape in ("repeats", "continuous"):
            raise ValueError('one with a warm-up when it counts as hard, not warm_up = "none"')
        if self.counts_as == "hard" and self.cool_down == "none" and self.shape in ("repeats", "continuous"):
            raise ValueError('one with a cool-down when it counts as hard, not cool_down = "none"')
        return self


def sessions_file(names: Iterable[str]) -> type[BaseModel]:
    """The model of a sessions file that holds these kinds, one table each."""
    fields: dict[str, Any] = dict.fromkeys(names, (SessionTemplate, ...))
    return create_model("Sessions", **fields)
