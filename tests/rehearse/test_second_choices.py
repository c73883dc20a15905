"""Second choices: in a coach's order, only what is near and allowed, and what each leaves out."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from planbuilder.course.types import Course
from planbuilder.plan.local import WantedKind
from planbuilder.rehearse import SecondChoice, second_choices
from planbuilder.rehearse.wanted import wanted
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Injury, RunnerSettings

EVERYTHING = RunnerSettings(
    name="Tom B", screening="passed", substitutes=("steps", "ramp", "bridge"), treadmill=True
)


@pytest.fixture
def choices(make_course: Callable[..., Course], limits: Limits) -> Callable[..., tuple[SecondChoice, ...]]:
    def ask(runner: RunnerSettings, kind: WantedKind = "climb") -> tuple[SecondChoice, ...]:
        course = make_course([(0, 0), (4000, 0), (5000, 40), (10_000, 0)])
        stretch = wanted(course, kind, "climb 1", 4000, 5000, limits=limits)
        return second_choices(stretch, 900.0, (6, 7), runner, limits)

    return ask


def test_they_come_in_the_order_coaches_prefer(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    """Bridge, ramp, treadmill, headwind, steps: common practice, no source."""
    assert [choice.kind for choice in choices(EVERYTHING)] == [
        *("bridge", "ramp", "treadmill", "wind", "steps"),
        "trip",
    ]


def test_each_asks_for_the_same_minutes_and_effort(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    for choice in choices(EVERYTHING)[:2]:
        assert "15 min of climbing in all at RPE 6–7" in choice.words
        assert "descent" in choice.cannot


def test_only_what_the_runner_has_is_offered(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    nothing_near = RunnerSettings(name="Tom B", screening="passed")
    assert [choice.kind for choice in choices(nothing_near)] == ["wind", "trip"]


def test_a_sore_achilles_takes_every_slope_away(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    injured = EVERYTHING.model_copy(update={"injuries": (Injury(place="achilles", pain=2),)})
    assert [choice.kind for choice in choices(injured)] == ["wind"]
    assert "achilles" not in repr(choices(injured)).lower()


def test_a_sore_knee_takes_downhill_strides_away(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    injured = EVERYTHING.model_copy(update={"injuries": (Injury(place="knee", pain=1),)})
    assert choices(injured, "descent") == ()
    assert [choice.kind for choice in choices(EVERYTHING, "descent")] == ["strides", "strength"]


def test_descents_say_that_braking_stays_untrained(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    assert all("cannot be copied" in choice.cannot for choice in choices(EVERYTHING, "descent"))


def test_unanswered_health_questions_leave_easy_effort(
    choices: Callable[..., tuple[SecondChoice, ...]],
) -> None:
    unasked = EVERYTHING.model_copy(update={"screening": None})
    assert all("RPE" not in choice.words for choice in choices(unasked))


def test_flat_ground_needs_no_second_choice(choices: Callable[..., tuple[SecondChoice, ...]]) -> None:
    assert choices(EVERYTHING, "flat") == ()
