"""What the runner room hands on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from planbuilder.settings.notes import Note
from planbuilder.settings.session_models import BandName

Level = Literal["novice", "intermediate", "club", "advanced"]


@dataclass(frozen=True, slots=True)
class UsedResult:
    """A result with what was made of it."""

    distance_m: float
    time_s: float
    days_before_block: int
    flat_time_s: float  # corrected for its course and weather
    used: bool
    words: str  # what was corrected and why, or why it was set aside; a sentence with unit marks
    climb_assumed: bool = False  # its ground is a word, not a figure or a file


@dataclass(frozen=True, slots=True)
class Form:
    """What a runner can do now on level ground in cool weather."""

    results: tuple[UsedResult, ...]
    anchor: UsedResult | None  # the result that sets the paces; None: train by effort until there is one
    stale: bool  # the anchor is too old: effort only
    threshold_mps: float | None  # speed for about 60 minutes, all-out
    threshold_low_mps: float | None  # slow end of what the results and models say
    threshold_high_mps: float | None
    critical_speed_mps: float | None  # where three efforts allow
    d_prime_m: float | None
    needs_test: bool
    notes: tuple[Note, ...]

    @property
    def by_effort(self) -> bool:
        """Whether training runs by effort alone."""
        return self.threshold_mps is None or self.stale


@dataclass(frozen=True, slots=True)
class Prediction:
    """A flat, cool race time as a range over the published models and over how far runners differ from them:
    disagreement is shown, not averaged."""

    distance_m: float
    time_s: float  # the figure of the model that fits this runner and distance best
    low_s: float  # quickest to expect, always below the figure
    high_s: float  # slowest, always above it
    models: tuple[tuple[str, float], ...]  # (model, seconds)


@dataclass(frozen=True, slots=True)
class Band:
    """A training pace band with its effort beside it. The effort comes first."""

    name: BandName
    rpe_low: float
    rpe_high: float
    talk: str  # talk test
    fast_s_per_km: float | None  # None: by effort
    slow_s_per_km: float | None
    heart_rate_low: int | None  # only from a measured maximum
    heart_rate_high: int | None
    why: str  # how it was found


@dataclass(frozen=True, slots=True)
class Paces:
    """All bands of one runner."""

    bands: tuple[Band, ...]
    words: str  # how they were found and from which result, a sentence with unit marks
    easy_s_per_km: (
        float  # middle of the easy band, or the pace assumed where there is none; for durations only
    )

    def band(self, name: BandName) -> Band:
        """The band of that name; every name is there."""
        return next(band for band in self.bands if band.name == name)

    def by_effort(self, name: BandName, effort_rpe: tuple[float, float], why: str) -> Paces:
        """The same, with that band at another effort and without a pace."""
        low, high = effort_rpe
        bare = replace(
            self.band(name),
            rpe_low=low,
            rpe_high=high,
            fast_s_per_km=None,
            slow_s_per_km=None,
            heart_rate_low=None,
            heart_rate_high=None,
            why=why,
        )
        return replace(self, bands=tuple(bare if band.name == name else band for band in self.bands))
