"""The coach's preview of the course."""

from __future__ import annotations

import pytest

from planbuilder.course.types import Course, Feature, Remark
from planbuilder.race import PreviewStretch, preview
from planbuilder.units import HALF_MARATHON_M, say_in
from tests.race.ground import LIMITS, course_of, demands_of, late_climb_half

PACES = (240.0, 300.0, 390.0)


def preview_of(
    course: Course, features: tuple[Feature, ...], remarks: tuple[Remark, ...] = ()
) -> tuple[PreviewStretch, ...]:
    return preview(
        course=course,
        features=features,
        demands=demands_of(course, features),
        remarks=remarks,
        limits=LIMITS,
        sample_paces=PACES,
    )


def test_every_stretch_says_what_the_ground_does_what_to_do_and_where_people_go_wrong() -> None:
    stretches = preview_of(*late_climb_half())
    assert stretches[0].from_m == 0
    assert stretches[-1].to_m == HALF_MARATHON_M
    for stretch in stretches:
        for text in (stretch.ground, stretch.todo, stretch.mistake):
            assert text
            assert "{" not in say_in(text, "mi")
        assert len(stretch.costs_s_per_km) == 3
    assert [stretch.name for stretch in stretches if stretch.decisive] == ["climb 2"]


def test_a_climb_costs_and_a_late_descent_gives_back() -> None:
    by_name = {stretch.name: stretch for stretch in preview_of(*late_climb_half())}
    climb, fall = by_name["climb 2"], by_name["descent 2"]
    # Davies 1980 (second-hand): 3.3 % per 1 %; the climb is 3.2 % steep.
    assert climb.costs_s_per_km == pytest.approx([pace * 0.1056 for pace in PACES], rel=0.03)
    assert all(cost < 0 for cost in fall.costs_s_per_km)
    assert -fall.costs_s_per_km[1] < climb.costs_s_per_km[1]


def test_the_words_of_the_coach_are_in_it() -> None:
    stretches = preview_of(*late_climb_half(), (Remark(17000.0, "Left at the mill.", False),))
    assert [stretch.name for stretch in stretches if "Left at the mill" in stretch.todo] == ["climb 2"]


def test_a_course_that_is_not_known_is_told_as_four_stretches() -> None:
    stretches = preview_of(course_of([(HALF_MARATHON_M, 0.0)], known=False), ())
    assert len(stretches) == 4
    assert all(stretch.ground == "not known: run by effort" for stretch in stretches)
    assert stretches[2].costs_s_per_km == pytest.approx((0.0, 0.0, 0.0), abs=1e-6)
