"""Sessions that name the local hill, how far up it, and the route with the climb at the right place."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from planbuilder.course.types import Course, Feature
from planbuilder.demands.types import CourseDemands, Demand
from planbuilder.plan.types import Ground, Role, Session, Step, Week
from planbuilder.plan.walk import timeline
from planbuilder.rehearse import LocalGround, RouteLibrary, find_ground, name_ground
from planbuilder.rehearse.library import Route
from planbuilder.settings.limits import Limits
from planbuilder.units import say_in, say_length, say_place

Array = NDArray[np.float64]
FOOT, TOP, LINE = 15_000.0, 16_200.0, 21_100.0


def _pieces(points: list[tuple[float, float]]) -> Array:
    places, heights = np.array(points, dtype=np.float64).T
    at = np.linspace(0.0, places[-1], round(places[-1] / 20) + 1)
    return np.asarray(np.interp(at, places, heights), dtype=np.float64)


CANAL = ("canal path", [(0.0, 0.0), (8000.0, 4.0)])
QUARRY = ("quarry lane", [(0.0, 0.0), (3000.0, 1.0), (4200.0, 49.0), (6000.0, 13.0)])
FAR = ("valley road", [(0.0, 0.0), (11_000.0, 8.0), (12_200.0, 56.0), (13_000.0, 50.0)])
HALF = ("beach road", [(0.0, 0.0), (6500.0, 3.0), (7700.0, 51.0), (8000.0, 50.0)])
SHORT = ("mill hill", [(0.0, 0.0), (3200.0, 2.0), (3700.0, 22.0), (4300.0, 22.0)])


@pytest.fixture
def ground_on(
    make_course: Callable[..., Course], make_route: Callable[..., Route], limits: Limits
) -> Callable[..., LocalGround]:
    """Local ground for a half marathon whose only climb comes at 15 km, with a drag to the line."""

    def find(*routes: tuple[str, list[tuple[float, float]]]) -> LocalGround:
        course = make_course([(0, 0), (FOOT, 6), (TOP, 54), (18_600, 6), (19_100, 6), (LINE, 24)])
        climb = Feature(
            "climb", "climb 1", FOOT, TOP, 48.0, 48.0, 0.0, 0.04, 0.04, FOOT / LINE, decisive=True, words=""
        )
        asked = (
            Demand("late_climb", FOOT, TOP, 0.04, 48.0, FOOT / LINE, climb, ""),
            Demand("finish_drag", 19_100.0, LINE, 0.009, 18.0, 19_100.0 / LINE, None, ""),
        )
        demands = CourseDemands("rolling", "", 3.0, asked, climb, None, 48.0, LINE, 48.0)
        library = RouteLibrary([make_route(_pieces(points), name=name) for name, points in routes])
        return find_ground(course, (climb,), demands, library, limits)

    return find


def _step(kind: str, ground: Ground, words: str, *, minutes: float, repeat: int = 1, rpe: float = 3) -> Step:
    pace = 340.0 if rpe < 5 else None
    return Step(
        kind,  # type: ignore[arg-type]
        repeat,
        minutes * 60,
        None,
        (rpe, rpe),
        None if pace is None else (pace, pace),
        ground,
        words,
        set_no=1 if repeat > 1 else 0,
    )


def _session(role: Role, *steps: Step, distance_m: float, place: str = "") -> Session:
    return Session(
        id=f"w03-{role}",
        role=role,
        date=dt.date(2027, 3, 4),
        start_time=None,
        place=place,
        kind="long_hill_reps",
        title="Long hill repeats",
        steps=steps,
        distance_m=distance_m,
        duration_s=3600.0,
        hard=True,
        work_s=900.0,
        hard_s=900.0,
        climb_m=60.0,
        descent_work_s=0.0,
        course_specific=True,
        rehearses_m=((FOOT, TOP),),
        why="Build: the climb at km 15.",
        reasons=(),
    )


def _week(*sessions: Session) -> tuple[Week, ...]:
    first = dt.date(2027, 3, 1)
    return (Week(3, first, dt.date(2027, 3, 7), "build", False, "", 40_000.0, 14_000.0, 900.0, sessions),)


def _hill_repeats(minutes: float, role: Role = "key", place: str = "") -> Session:
    return _session(
        role,
        _step("warm_up", Ground("any"), "15 min easy", minutes=15),
        _step("work", Ground("up", 0.04), "strong and even", minutes=minutes, repeat=5, rpe=7),
        _step("recovery", Ground("down", -0.04), "jog down", minutes=minutes, repeat=5, rpe=2),
        distance_m=9000.0,
        place=place,
    )


def _long_run(flat_minutes: float) -> Session:
    return _session(
        "long",
        _step("easy", Ground("flat"), "Flat and relaxed.", minutes=flat_minutes),
        _step("work", Ground("up", 0.04), "Then up", minutes=6, rpe=6),
        _step("easy", Ground("any"), "Home", minutes=10),
        distance_m=flat_minutes * 60 / 340 * 1000 + 3000,
    )


def test_hill_repeats_name_the_hill_and_how_far_up_it(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    session = _hill_repeats(3)
    up_m = timeline(session)[1].distance_m
    assert 400 < up_m < 700  # 3 min uphill
    named = name_ground(_week(session), ground_on(CANAL, QUARRY), limits)[0].sessions[0].steps[1]
    turn = say_place(3000 + up_m, "km")
    assert say_in(named.ground.words, "km") == f"quarry lane, km 3.0 to {turn}"
    assert say_in(named.words, "km") == (
        f"strong and even. Here: quarry lane, up from km 3.0 to about {turn} ({say_length(up_m, 'km')})"
    )


def test_a_hill_that_is_too_short_is_run_more_often(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    named = name_ground(_week(_hill_repeats(6)), ground_on(CANAL, SHORT), limits)[0].sessions[0].steps[1]
    assert "times the hill from km 3.2 to km 3.6 of mill hill, jog back" in say_in(named.words, "km")


def test_hill_work_of_no_stretch_goes_to_a_hill_of_its_own_grade(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    """Short repeats at 8 % in the base phase rehearse nothing in particular."""
    steep = ("chapel steps road", [(0.0, 0.0), (1000.0, 0.0), (1500.0, 40.0), (2000.0, 40.0)])
    short = _session(
        "key",
        _step("warm_up", Ground("any"), "15 min easy", minutes=15),
        _step("work", Ground("up", 0.08), "quick and light", minutes=1, repeat=8, rpe=8),
        distance_m=7000.0,
    )
    short = dataclasses.replace(short, rehearses_m=())
    named = name_ground(_week(short), ground_on(CANAL, QUARRY, steep), limits)[0].sessions[0].steps[1]
    assert "Here: chapel steps road, up from km 1.0" in say_in(named.words, "km")
    only_gentle = name_ground(_week(short), ground_on(CANAL, QUARRY), limits)[0].sessions[0].steps[1]
    assert "quarry lane" in only_gentle.words
    assert "Gentler than asked for: 120 % of the time, same effort" in only_gentle.words


def test_nothing_but_the_words_of_steps_and_ground_changes(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    weeks = _week(_hill_repeats(3), _long_run(70))
    named = name_ground(weeks, ground_on(CANAL, QUARRY), limits)
    assert named != weeks

    def without_words(session: Session) -> Session:
        steps = tuple(
            dataclasses.replace(step, words="", ground=dataclasses.replace(step.ground, words=""))
            for step in session.steps
        )
        return dataclasses.replace(session, steps=steps)

    for before, after in zip(weeks, named, strict=True):
        assert [without_words(s) for s in before.sessions] == [without_words(s) for s in after.sessions]
        assert dataclasses.replace(before, sessions=()) == dataclasses.replace(after, sessions=())


@pytest.mark.parametrize(
    "session",
    [_hill_repeats(3, role="club"), _hill_repeats(3, place="the track"), _hill_repeats(3, role="tune_up")],
)
def test_sessions_with_a_place_of_their_own_stay_as_they_are(
    session: Session, ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    assert name_ground(_week(session), ground_on(QUARRY), limits) == _week(session)


def test_a_long_run_starts_where_the_hill_comes_at_the_right_kilometre(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    """50 min at 5:40/km is 8.8 km of flat; the valley road has 11 km of it before its hill."""
    first = name_ground(_week(_long_run(50)), ground_on(CANAL, FAR), limits)[0].sessions[0].steps[0]
    text = say_in(first.words, "km")
    assert text.startswith("Flat and relaxed. Here: start at km 2.")
    assert "of valley road; it is flat for" in text
    assert text.endswith("of your run (km 11.0 of the route)")


def test_where_half_the_flat_is_there_it_is_run_out_and_back(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    first = name_ground(_week(_long_run(60)), ground_on(HALF), limits)[0].sessions[0].steps[0]
    text = say_in(first.words, "km")
    assert "start at the foot of the hill, km 6.5 of beach road" in text
    assert "turn and come back: the hill begins at km" in text


def test_otherwise_two_routes_bring_the_hill_at_the_right_kilometre(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    steps = name_ground(_week(_long_run(70)), ground_on(CANAL, QUARRY), limits)[0].sessions[0].steps
    text = say_in(steps[0].words, "km")
    assert "Here, two routes: first" in text
    assert "on canal path, km 0.0 to km 8.0" in text
    assert "then go over to quarry lane, from km 0.0, flat to the hill at km 3.0" in text
    assert say_in(steps[1].ground.words, "km").startswith("quarry lane, km 3.0 to km 4.")


def test_the_drag_of_a_simulation_is_sent_to_a_drag_and_its_climb_to_the_hill(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    drag = ("long meadow", [(0.0, 0.0), (1000.0, 0.0), (3000.0, 18.0), (3500.0, 18.0)])
    run = _long_run(50)
    last = _step("work", Ground("drag", 0.009), "Up the drag", minutes=5, rpe=7)
    run = dataclasses.replace(run, steps=(*run.steps[:2], last), rehearses_m=((FOOT, TOP), (19_100.0, LINE)))
    steps = name_ground(_week(run), ground_on(CANAL, QUARRY, drag), limits)[0].sessions[0].steps
    assert "of quarry lane" in steps[1].words or "quarry lane, up" in steps[1].words
    assert say_in(steps[2].words, "km").startswith("Up the drag. Here: long meadow, up from km 1.0")


def test_without_local_ground_the_weeks_stay_as_they_are(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    weeks = _week(_hill_repeats(3), _long_run(70))
    assert name_ground(weeks, ground_on(), limits) == weeks


def test_a_hill_that_resembles_nothing_is_named_as_such(
    ground_on: Callable[..., LocalGround], limits: Limits
) -> None:
    named = name_ground(_week(_hill_repeats(3)), ground_on(CANAL), limits)[0].sessions[0].steps[1]
    assert "Nothing here resembles climb 1 closely; this comes nearest" in named.words
