"""Everything one runner needs to rehearse the race where they live."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseDemands
from planbuilder.physiology.gradient import pace_factor
from planbuilder.plan.local import LocalGround, Rehearsal, SecondChoice, TreadmillProgramme
from planbuilder.rehearse.second_choices import second_choices
from planbuilder.rehearse.treadmill import treadmill_of, treadmill_programme
from planbuilder.rehearse.wanted import wanted_stretches
from planbuilder.runner.types import Paces
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings, TrainingSettings

_RACE_RPE = (6.0, 7.0)  # the effort at which a climb of the race is rehearsed


def find_rehearsal(
    course: Course,
    features: Sequence[Feature],
    demands: CourseDemands,
    runner: RunnerSettings,
    paces: Paces,
    limits: Limits,
    *,
    local: LocalGround | None,
    training: TrainingSettings,
    first_day: dt.date,
) -> Rehearsal | None:
    """Local ground where it was searched; a treadmill programme and second choices where there are no hills.

    None where the runner has hills near home and no routes were given: any hill will do then.
    """
    programmes: tuple[TreadmillProgramme, ...] = ()
    choices: tuple[SecondChoice, ...] = ()
    climb = next(iter(wanted_stretches(course, features, demands, limits)), None)
    if climb is not None and not runner.hills and demands.decisive is not None:
        machine = treadmill_of(runner)
        if machine is not None:
            programmes = (
                treadmill_programme(
                    course, climb, runner, paces, machine, limits, training=training, first_day=first_day
                ),
            )
        level_s_per_km = paces.band("race effort").slow_s_per_km or paces.easy_s_per_km
        climb_s = climb.length_m / 1000 * level_s_per_km * float(pace_factor(climb.profile.grade))
        choices = second_choices(
            climb, climb_s, _RACE_RPE, runner, limits, training=training, first_day=first_day
        )
    if local is None and not programmes and not choices:
        return None
    return Rehearsal(local, programmes, choices)
