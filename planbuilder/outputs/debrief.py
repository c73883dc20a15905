"""Looking back on the race: plan against run, stretch by stretch.

Receives: a plan, the time that was run, a recording where there is one.
Gives: ``Debrief``, and the rows of the squad's sheet.

The method: the plan spreads one even effort over the course by its grade model (named in the race plan). So a
stretch whose share of the whole time is smaller than in the plan was run harder than the rest, whatever its
slope. Heart rate, where it was recorded, stands beside it; it lags and drifts, so it confirms and does not
judge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planbuilder.course.recording import Recording
from planbuilder.plan.types import Plan
from planbuilder.race.types import Stretch

Held = Literal["even", "harder than the rest", "easier than the rest"]


@dataclass(frozen=True, slots=True)
class StretchRun:
    """One stretch of the race as it was run."""

    name: str
    from_m: float
    to_m: float
    grade: float
    planned_s: float | None  # in the plan
    time_s: float
    pace_s_per_km: float
    heart_rate: float | None  # beats a minute
    off: float | None  # share of time against the plan's share: negative was quicker than even effort
    held: Held | None

    @property
    def climbs(self) -> bool:
        """Whether it is one of the climbs."""
        return self.name.startswith("climb")


@dataclass(frozen=True, slots=True)
class Debrief:
    """What there is to look back on."""

    time_s: float
    planned_s: float | None  # plan A
    predicted_low_s: float | None
    predicted_high_s: float | None
    stretches: tuple[StretchRun, ...]  # empty without a recording
    to_finish: bool = False  # the line was the goal: the time is measured against nothing

    @property
    def climbs_held(self) -> tuple[int, int] | None:
        """How many climbs were run no harder than the rest, of how many; None where nothing was recorded."""
        climbs = [one for one in self.stretches if one.climbs and one.held is not None]
        if not climbs:
            return None
        return sum(one.held != "harder than the rest" for one in climbs), len(climbs)


def look_back(plan: Plan, *, time_s: float, recording: Recording | None, as_planned: float) -> Debrief:
    """The race as it was run against the plan; ``as_planned`` is the share of time that counts as even."""
    goal = plan.race_plan.goal
    to_finish = goal.verdict == "finish well"
    stretches: tuple[StretchRun, ...] = ()
    if recording is not None:
        scale = recording.whole_m / plan.race.distance_m
        whole_s = sum(one.time_s or 0.0 for one in plan.race_plan.features)
        stretches = tuple(
            _stretch(one, recording, scale, whole_s, as_planned) for one in plan.race_plan.features
        )
    return Debrief(
        time_s=time_s,
        planned_s=plan.race_plan.finish_time_s,
        predicted_low_s=None if to_finish else goal.predicted_low_s,
        predicted_high_s=None if to_finish else goal.predicted_high_s,
        stretches=stretches,
        to_finish=to_finish,
    )


def _stretch(
    one: Stretch, recording: Recording, scale: float, whole_s: float, as_planned: float
) -> StretchRun:
    """The stretch as recorded; a recording's distance is stretched to that of the race."""
    time_s, beats = recording.between(one.from_m * scale, one.to_m * scale)
    off: float | None = None
    held: Held | None = None
    if one.time_s and whole_s > 0 and time_s > 0:
        off = (time_s / recording.duration_s) / (one.time_s / whole_s) - 1
        held = "even"
        if abs(off) > as_planned:
            held = "harder than the rest" if off < 0 else "easier than the rest"
    return StretchRun(
        name=one.name,
        from_m=one.from_m,
        to_m=one.to_m,
        grade=one.grade,
        planned_s=one.time_s,
        time_s=time_s,
        pace_s_per_km=time_s / max(one.to_m - one.from_m, 1.0) * 1000,
        heart_rate=beats,
        off=off,
        held=held,
    )
