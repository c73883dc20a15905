"""Whatever the schedule orders, within sense, comes back as a session that can be handed out."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planbuilder.demands.types import CourseDemands, Demand, DemandKind
from planbuilder.plan.walk import timeline
from planbuilder.rules.library import load_library
from planbuilder.rules.orders import MainSet, Order
from planbuilder.rules.write_session import dose_range, why_not, write_session
from planbuilder.runner.types import Band, Level, Paces
from planbuilder.settings.limits import default_limits
from planbuilder.settings.session_models import BandName, Banned, Substitute

LIBRARY = load_library()
LIMITS = default_limits()
BANDS: tuple[BandName, ...] = get_args(BandName)
FALLING = ("downhill_start", "long_descent", "net_downhill", "downhill_race")


@st.composite
def some_paces(draw: st.DrawFn) -> Paces:
    easy = draw(st.floats(260, 620))
    by_effort = draw(st.booleans())
    quicker = {name: 1.0 - 0.03 * turn for turn, name in enumerate(BANDS)}
    bands = tuple(
        Band(
            name,
            2,
            4,
            "",
            None if by_effort else easy * share * 0.98,
            None if by_effort else easy * share * 1.02,
            None,
            None,
            "",
        )
        for name, share in quicker.items()
    )
    return Paces(bands, "", easy)


@st.composite
def some_course(draw: st.DrawFn) -> CourseDemands:
    race_m = draw(st.sampled_from([5000.0, 10000.0, 16093.0, 21097.5, 42195.0]))
    kinds = draw(st.lists(st.sampled_from(get_args(DemandKind)), max_size=5, unique=True))
    demands = []
    for kind in kinds:
        start_m = draw(st.floats(0, 0.9)) * race_m
        end_m = min(start_m + draw(st.floats(200, 8000)), race_m)
        size = draw(st.floats(0.005, 0.14))
        grade = -size if kind in FALLING else 0.0 if kind == "long_flat" else size
        demands.append(
            Demand(kind, start_m, end_m, grade, (end_m - start_m) * grade, start_m / race_m, None, "Why.")
        )
    demands.sort(key=lambda demand: demand.start_m)
    climb = draw(st.floats(0, 30))
    return CourseDemands("rolling", "", climb, tuple(demands), None, None, climb, race_m, 50.0)


@st.composite
def some_order(draw: st.DrawFn) -> Order:
    course = draw(some_course())
    demand = draw(st.none() | st.sampled_from(course.demands)) if course.demands else None
    return Order(
        kind=draw(st.sampled_from(LIBRARY.names)),
        level=draw(st.sampled_from(get_args(Level))),
        phase=draw(st.sampled_from(["base", "build", "specific", "taper"])),
        paces=draw(some_paces()),
        course=course,
        occurrence=draw(st.integers(0, 14)),
        dose=draw(st.none() | st.floats(0, 1)),
        duration_s=draw(st.floats(1500, 12000)),
        work_limit_s=draw(st.none() | st.floats(0, 4000)),
        demand=demand,
        goal_pace=draw(st.booleans()),
        hills=draw(st.booleans()),
        treadmill_grade=draw(st.sampled_from([0.0, 0.04, 0.12])),
        substitutes=tuple(draw(st.sets(st.sampled_from(get_args(Substitute)), max_size=2))),
        banned=draw(st.frozensets(st.sampled_from(get_args(Banned)), max_size=2)),
        previous=draw(
            st.none() | st.builds(MainSet, st.integers(1, 12), st.sampled_from([60.0, 180.0, 480.0]))
        ),
        race_distance_m=10000.0,
    )  # fmt: skip


def hand_out(order: Order) -> None:
    """Everything a coach would look at before handing the session out."""
    template = LIBRARY.template(order.kind)
    if why_not(order, LIBRARY):
        assert template.instead
        return
    draft = write_session(order, LIBRARY, LIMITS)
    legs = timeline(draft.steps, easy_s_per_km=order.paces.easy_s_per_km)
    assert abs(sum(leg.duration_s for leg in legs) - draft.duration_s) < 0.01
    assert abs(sum(leg.distance_m for leg in legs) - draft.distance_m) < 0.1
    assert all(leg.duration_s > 0 for leg in legs)
    assert all(step.pace_s_per_km is None for step in draft.steps if abs(step.ground.grade or 0) > 0.015)
    if template.counts_as == "hard":
        before = next(leg.start_s for leg in legs if leg.kind == "work")
        assert before >= 600
        assert legs[-1].kind == "cool_down"
        assert legs[-1].duration_s >= 300
    if template.counts_as == "easy" and template.shape != "strides":
        assert max(step.effort_rpe[1] for step in draft.steps) <= 4
    if "uphill" in order.banned:
        assert all((step.ground.grade or 0) <= 0.01 for step in draft.steps)
        assert not any(step.ground.kind in ("up", "bridge", "ramp", "steps") for step in draft.steps)
    if "downhill" in order.banned:
        assert not any(step.ground.kind == "down" for step in draft.steps)
    if "fast" in order.banned:
        assert not any(step.kind == "strides" for step in draft.steps)
    if not order.hills and not order.treadmill_grade:
        assert not any(step.ground.kind == "up" for step in draft.steps)
    for start_m, end_m in draft.rehearses_m:
        assert 0 <= start_m < end_m <= order.course.distance_m + 0.01
    assert draft.course_specific == bool(draft.rehearses_m)


@settings(max_examples=100, deadline=None)
@given(some_order())
def test_any_order_gives_a_session_that_can_be_handed_out(order: Order) -> None:
    hand_out(order)


@pytest.mark.slow
@settings(max_examples=2000, deadline=None)
@given(some_order())
def test_thousands_of_orders_give_sessions_that_can_be_handed_out(order: Order) -> None:
    hand_out(order)


@settings(max_examples=40, deadline=None)
@given(some_order())
def test_the_limit_of_the_week_is_kept_wherever_the_smallest_session_fits(order: Order) -> None:
    if why_not(order, LIBRARY) or order.work_limit_s is None:
        return
    draft = write_session(order, LIBRARY, LIMITS)
    smallest = dose_range(order, LIBRARY, LIMITS)
    assert draft.work_s <= max(order.work_limit_s, smallest.min_work_s) + 1
