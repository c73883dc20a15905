"""How this runner runs this course: even effort, rules of the trade, the day, the evening before.

Receives: the course with its features and demands, the runner's form and prediction, the limits.
Gives: a ``RacePlan`` with its ``GoalCheck``, and the coach's ``preview`` of the course for everybody.
"""

from __future__ import annotations

from planbuilder.race.conditions import parse_conditions, say_change
from planbuilder.race.evening import own_start
from planbuilder.race.goal import with_test
from planbuilder.race.ladder import finish_effort
from planbuilder.race.planner import plan_race
from planbuilder.race.preview import preview
from planbuilder.race.types import Aim, GoalCheck, PreviewStretch, RacePlan, Stretch

__all__ = [
    "Aim",
    "GoalCheck",
    "PreviewStretch",
    "RacePlan",
    "Stretch",
    "finish_effort",
    "own_start",
    "parse_conditions",
    "plan_race",
    "preview",
    "say_change",
    "with_test",
]
