"""What a runner may do at all: the questions that come before every plan.

Receives: the runner's and the squad's settings, the limits.
Gives: ``Allowed``, asked by the scheduler before it chooses and by the checks after it has chosen.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Final

from planbuilder.race.types import Part
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Injury, RunnerSettings, TrainingSettings

PUSH_PLACES: Final = ("achilles", "calf", "plantar", "hamstring")  # provoked by hills and by fast running
BRAKE_PLACES: Final = ("knee", "shin", "quad", "hip", "back")  # provoked by descents
BOTH_PLACES: Final = ("foot", "groin")  # provoked by either; may hide a sore bone


@dataclass(frozen=True, slots=True)
class Allowed:
    """What safety leaves to a runner."""

    block: bool  # False: too young for any block
    run: bool
    hard: bool
    screened: bool  # False: nothing above the easy effort
    uphill: bool
    downhill: bool
    fast: bool  # strides, repetitions
    all_out: bool  # tests and races run as hard as possible
    race_distance: bool  # False: above the age limit of the distance, or below the organiser's youngest age
    minor: bool

    @property
    def trains(self) -> bool:
        """Whether there is a block of running."""
        return self.block and self.run

    @property
    def anything_above_easy(self) -> bool:
        """Whether any step may be above the easy effort."""
        return self.trains and self.hard and self.screened

    @property
    def part(self) -> Part:
        """What is left of the race of the block: all of it, an easy run, or nothing."""
        if not (self.trains and self.race_distance):
            return "stays out"
        return "races" if self.anything_above_easy else "runs easily"


def screening_open(runner: RunnerSettings, training: TrainingSettings) -> bool:
    """Whether the health questions are unanswered, or a clearance is still needed."""
    if runner.screening is None:
        return not training.screening_held_by_club
    return runner.screening == "needed"


def flagged(injury: Injury) -> bool:
    """Whether a sore place still takes something out of the plan."""
    return injury.cleared is None or injury.pain > 1 or injury.limping


def stops_running(injury: Injury, limits: Limits, on: dt.date | None) -> bool:
    """Whether a sore place stops all running until a licensed practitioner has cleared it.

    ``on`` is the first day of the block: a pain to ease for that has lasted too long by then stops it too.
    """
    if injury.cleared is not None:
        return False
    days = None if on is None else days_with(injury, on)
    lasting = days is not None and days > limits.number("adapt.pain_days") and eased(injury, limits)
    strong = injury.pain >= limits.number("safety.pain_no_run")
    return injury.place == "bone" or injury.limping or strong or lasting


def eased(injury: Injury, limits: Limits) -> bool:
    """Whether a sore place asks for less running until it is better."""
    return injury.pain >= limits.number("adapt.pain_ease")


def allowed_for(
    runner: RunnerSettings,
    training: TrainingSettings,
    limits: Limits,
    *,
    race_distance_m: float,
    minimum_age: int | None = None,
    first_day: dt.date | None = None,
) -> Allowed:
    """What this runner may do, from age, health questions and sore places.

    ``minimum_age`` is the organiser's youngest age for the race, years; the stricter limit wins.
    ``first_day`` of the block tells how long a place has been sore.
    """
    flags = [injury for injury in runner.injuries if flagged(injury)]
    places = {injury.place for injury in flags}
    age = runner.age
    push = bool(places & {*PUSH_PLACES, *BOTH_PLACES})
    worst = max((injury.pain for injury in flags), default=0)
    too_young = age is not None and age < limits.number("safety.youngest")
    ages = limits.table("safety.minor_distance")
    minor = age is not None and age < 18
    farthest = float(ages.get(str(age), 0.0)) if minor else float("inf")
    return Allowed(
        block=not too_young,
        run=not any(stops_running(injury, limits, first_day) for injury in runner.injuries),
        hard=worst < limits.number("safety.pain_no_hard"),
        screened=not screening_open(runner, training),
        uphill=not push,
        downhill=not (places & {*BRAKE_PLACES, *BOTH_PLACES}),
        fast=not push,
        all_out=not push,
        race_distance=race_distance_m <= farthest + 1.0 and not below_organisers_age(age, minimum_age),
        minor=minor,
    )


def below_organisers_age(age: int | None, minimum_age: int | None) -> bool:
    """Whether a runner is younger than the organiser lets start; an age that is not given is not judged."""
    return age is not None and minimum_age is not None and age < minimum_age


def careful(runner: RunnerSettings, level: str) -> bool:
    """Novices, runners under 18 and after an injury: two rest days and the shorter rhythm."""
    return (
        level == "novice"
        or runner.injured_last_6_months
        or any(flagged(injury) for injury in runner.injuries)
        or (runner.age is not None and runner.age < 18)
    )


def days_with(injury: Injury, on: dt.date) -> int | None:
    """How long a place has been sore, where the first day was given."""
    return None if injury.since is None else (on - injury.since).days
