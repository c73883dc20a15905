"""Plans that are unlike the sample: the pages hold whatever a block may bring."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.outputs.pages import render_plan, render_race_card
from planbuilder.outputs.pages.plan_page import plan_view
from planbuilder.plan.types import Plan
from planbuilder.units import MARK
from tests.outputs.page_reading import Page
from tests.outputs.sample_plan import sample_plan
from tests.outputs.test_pages import course_page


def without_course(plan: Plan) -> Plan:
    flat = np.zeros_like(plan.course.height_m)
    course = replace(plan.course, height_m=flat, grade=flat, known=False, ascent_m=0.0, descent_m=0.0)
    demands = replace(plan.demands, decisive=None, demands=())
    return replace(plan, course=course, features=(), demands=demands)


def with_a_short_race(plan: Plan) -> Plan:
    course = plan.course
    inside = 501
    return replace(
        plan,
        course=replace(
            course,
            distance_m=5000.0,
            measured_m=5000.0,
            step_m=10.0,
            height_m=course.height_m[:inside],
            grade=course.grade[:inside],
        ),
        race=replace(plan.race, distance_m=5000.0),
        features=(),
        weeks=tuple(
            replace(week, sessions=tuple(replace(session, rehearses_m=()) for session in week.sessions))
            for week in plan.weeks
        ),
    )


def with_an_empty_week(plan: Plan) -> Plan:
    empty = replace(plan.weeks[0], sessions=(), distance_m=0.0, duration_s=0.0, work_s=0.0)
    return replace(plan, weeks=(empty, *plan.weeks[1:]))


def with_a_crowd_of_features(plan: Plan) -> Plan:
    climb = plan.features[1]
    crowd = tuple(
        replace(
            climb,
            name=f"a rather long name {number}",
            start_m=number * 1000.0,
            end_m=number * 1000.0 + 800,
            decisive=number == 12,
        )
        for number in range(20)
    )
    stretches = tuple(
        replace(plan.race_plan.features[0], name=feature.name, from_m=feature.start_m, to_m=feature.end_m)
        for feature in crowd
    )
    return replace(plan, features=crowd, race_plan=replace(plan.race_plan, features=stretches))


def with_nothing_to_say(plan: Plan) -> Plan:
    race = replace(
        plan.race_plan, intakes=(), decisions=(), evening=(), lay_out=(), cues=(), adjustments=(), notes=()
    )
    return replace(plan, notes=(), remarks=(), private_notes=(), race_plan=race)


def with_one_outcome(plan: Plan) -> Plan:
    return replace(plan, race_plan=replace(plan.race_plan, outcomes=plan.race_plan.outcomes[:1]))


ODD: tuple[Callable[[Plan], Plan], ...] = (
    without_course,
    with_a_short_race,
    with_an_empty_week,
    with_a_crowd_of_features,
    with_nothing_to_say,
    with_one_outcome,
)


@pytest.mark.parametrize("change", ODD, ids=lambda change: change.__name__)
def test_an_odd_plan_still_makes_whole_pages(change: Callable[[Plan], Plan]) -> None:
    plan = change(sample_plan())
    for html in (render_plan(plan), render_race_card(plan), course_page(plan)):
        page = Page(html)
        ids = [element.attributes["id"] for element in page.elements if "id" in element.attributes]
        assert sorted(ids) == sorted(set(ids))
        assert MARK.search(html) is None
        assert "nan" not in html
        assert not re.search(r">\s*None\b", html)


def test_runs_longer_than_the_race_say_that_the_scale_is_shared() -> None:
    view = plan_view(with_a_short_race(sample_plan()))
    assert not view.own_scale
    assert "all on one scale" in render_plan(with_a_short_race(sample_plan()))
    assert "on the scale of the race above" in render_plan(sample_plan())


def test_names_that_find_no_room_are_left_out_but_never_the_decisive_one() -> None:
    labels = plan_view(with_a_crowd_of_features(sample_plan())).frame.picture.labels
    assert 3 <= len(labels) < 20
    assert [label.text for label in labels if label.strong] == ["a rather long name 12"]


@given(text=st.text(min_size=1, max_size=60))
def test_whatever_a_person_writes_comes_back_as_text(text: str) -> None:
    plan = sample_plan()
    session = replace(plan.weeks[0].sessions[0], title=text, place=text, caution=text)
    one = replace(plan, weeks=(replace(plan.weeks[0], sessions=(session,)),))
    html = render_plan(replace(one, runner=replace(plan.runner, name=text)))
    page = Page(html)
    if text.strip() and not re.search(r"[\r\x00-\x1f{]", text):
        assert page.all("title")[0].text == f"{text}: {plan.race.name}"
    assert len(page.all("script")) == 1
    assert len(page.all("article")) == 1
