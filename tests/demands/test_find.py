"""What a course asks: class, flags and the decisive climb, on courses made to sit on both sides of each rule.

The thresholds are coaches' common practice, or ours within it, as ``limits.toml`` marks them; the net drop of
1 m a kilometre is World Athletics' rule for records.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from planbuilder.course import Course, find_features
from planbuilder.course.build import Ground, build_course
from planbuilder.demands import CourseDemands, find_demands
from planbuilder.units import HALF_MARATHON_M, say_climb_rate, say_in
from tests.course.hand_made import LIMITS


def course_of(*corners: tuple[float, float], known: bool = True) -> Course:
    at, heights = (np.array(column, dtype=float) for column in zip(*corners, strict=True))
    ground = Ground("Saltmarsh Run", at, heights, "typed points", known, 0.0)
    return build_course(ground, "block.toml", LIMITS, certified_m=None, force=False)


def waves(per_km: float, *, length_m: float = 10_000.0) -> Course:
    """A course that climbs so many metres a kilometre in waves of 5 km."""
    corners = [(2500.0 * n, 5 * per_km if n % 2 else 0.0) for n in range(round(length_m / 2500) + 1)]
    return course_of(*corners)


def demands_of(course: Course) -> CourseDemands:
    return find_demands(course, find_features(course, LIMITS), LIMITS)


def kinds(course: Course) -> set[str]:
    return {demand.kind for demand in demands_of(course).demands}


@pytest.mark.parametrize(
    ("per_km", "name"),
    [
        (3.6, "flat"),
        (5, "rolling"),
        (7.5, "rolling"),
        (9, "hilly"),
        (14, "hilly"),
        (17, "very hilly"),
        (30, "very hilly"),
    ],
)
def test_the_class_is_the_climb_a_kilometre(per_km: float, name: str) -> None:
    found = demands_of(waves(per_km))
    assert found.course_class == name
    assert found.climb_m_per_km == pytest.approx(per_km, rel=0.05)
    assert f"{say_climb_rate(found.climb_m_per_km, 'km')}; {name} is" in say_in(found.class_why, "km")
    assert "kilometre" not in say_in(found.class_why, "mi")


def test_a_flat_course_asks_for_nothing_but_rhythm() -> None:
    found = demands_of(course_of((0, 50), (10_000, 51)))
    assert [demand.kind for demand in found.demands] == ["long_flat"]
    assert (found.decisive, found.second) == (None, None)


@pytest.mark.parametrize(("drop", "flagged"), [(30, True), (16, True), (13, False)])
def test_a_downhill_start_is_trained_from_fifteen_metres(drop: float, flagged: bool) -> None:
    """At least 15 m in 2 km, at a mean of -0.75 % or more, with 800 m of it at -1.5 % or steeper."""
    course = course_of((0, 100), (900, 100 - drop), (10_000, 100 - drop))
    assert ("downhill_start" in kinds(course)) is flagged


def test_a_gentle_downhill_start_is_named_but_not_trained() -> None:
    course = course_of((0, 100), (2000, 84), (10_000, 84))
    assert any(feature.kind == "downhill_start" for feature in find_features(course, LIMITS))
    assert "downhill_start" not in kinds(course)


@pytest.mark.parametrize(("rise", "flagged"), [(24, True), (14, False)])
def test_early_hills_climb_eight_metres_a_kilometre_in_the_first_quarter(rise: float, flagged: bool) -> None:
    course = course_of((0, 50), (1000, 50), (1600, 50 + rise), (2200, 50), (10_000, 50))
    assert ("early_hills" in kinds(course)) is flagged


def test_two_early_climbs_are_early_hills_whatever_they_gain() -> None:
    course = course_of(
        (0, 50), (500, 62), (1000, 50), (3000, 50), (3500, 62), (4000, 50), (HALF_MARATHON_M, 50)
    )
    assert "early_hills" in kinds(course)


@pytest.mark.parametrize(("until", "flagged"), [(3200, True), (2700, False)])
def test_a_long_flat_is_a_quarter_of_the_race(until: float, flagged: bool) -> None:
    slopes = [
        (until + 1000 * n + 500, 30.0 if n % 2 == 0 else 0.0) for n in range(round((12_000 - until) / 1000))
    ]
    assert ("long_flat" in kinds(course_of((0, 0), (until, 0), *slopes))) is flagged


def test_a_late_climb_after_a_long_flat_is_what_a_coach_would_say_it_is() -> None:
    course = course_of((0, 5), (16_500, 6), (17_400, 45), (18_600, 10), (19_500, 10), (HALF_MARATHON_M, 22))
    found = demands_of(course)
    assert {"long_flat", "late_climb", "hilly_finish", "long_descent", "finish_drag"} <= {
        d.kind for d in found.demands
    }
    assert found.decisive is not None
    assert found.decisive.start_m == pytest.approx(16_500, abs=80)
    assert found.late_gain_m == pytest.approx(39 + 12, abs=3)
    late = found.first("late_climb")
    assert late is not None
    assert "km 16.5" in say_in(late.why, "km")
    assert "Climb 1 at mile 10.2" in say_in(late.why, "mi")


@pytest.mark.parametrize(("rise", "flagged"), [(11, True), (8, False)])
def test_in_five_kilometres_one_late_climb_makes_a_hilly_finish(rise: float, flagged: bool) -> None:
    course = course_of((0, 20), (4000, 20), (4500, 20 + rise), (5000, 20 + rise))
    assert ("hilly_finish" in kinds(course)) is flagged


@pytest.mark.parametrize(
    ("start", "rise", "end", "flagged"),
    [(9000, 8, 10_000, True), (9000, 4, 10_000, False), (8600, 8, 9500, False), (8700, 8, 9800, True)],
)
def test_a_finish_drag_rises_half_a_percent_and_ends_near_the_line(
    start: float, rise: float, end: float, flagged: bool
) -> None:
    course = course_of((0, 20), (start, 20), (end, 20 + rise), (10_000, 20 + rise))
    assert ("finish_drag" in kinds(course)) is flagged


@pytest.mark.parametrize(
    ("length", "drop", "flagged"), [(1500, 32, True), (1200, 25, False), (600, 27, True), (300, 15, False)]
)
def test_a_long_descent_drops_thirty_metres_or_is_steep_for_four_hundred(
    length: float, drop: float, flagged: bool
) -> None:
    course = course_of((0, 60), (5000, 60), (5000 + length, 60 - drop), (10_000, 60 - drop))
    assert ("long_descent" in kinds(course)) is flagged


@pytest.mark.parametrize(
    ("drop", "kind"), [(8, None), (12, "net_downhill"), (45, "net_downhill"), (60, "downhill_race")]
)
def test_net_drop_is_told_as_the_rules_for_records_tell_it(drop: float, kind: str | None) -> None:
    found = kinds(course_of((0, 100), (10_000, 100 - drop))) & {"net_downhill", "downhill_race"}
    assert found == (set() if kind is None else {kind})
    why = demands_of(course_of((0, 100), (10_000, 100 - drop))).class_why
    assert ("a downhill race" in why) == (kind == "downhill_race")


def test_the_two_weightiest_climbs_are_kept() -> None:
    course = course_of(
        *(
            (0, 0),
            (1000, 45),
            (2000, 0),
            (4000, 0),
            (4700, 25),
            (5400, 0),
            (8000, 0),
            (8800, 40),
            (9600, 0),
            (10_000, 0),
        )
    )
    found = demands_of(course)
    assert found.decisive is not None
    assert found.second is not None
    assert [found.decisive.name, found.second.name] == ["climb 3", "climb 1"]
    assert sum(demand.kind == "late_climb" for demand in found.demands) == 2


def test_a_course_rolls_between_its_climbs_too_but_not_where_it_is_level() -> None:
    """Four metres a kilometre besides the climbs that decide, as for a rolling course: our choice."""
    rises = [(at, 8.0 if at % 1000 else 0.0) for at in range(0, 10_001, 500)]
    rolls = course_of(*[(at, 30.0 if at == 7500 else height) for at, height in rises])
    level = course_of((0, 0), (7000, 0), (7800, 45), (8600, 0), (10_000, 0))
    assert {"rolling", "late_climb"} <= kinds(rolls)
    assert "late_climb" in kinds(level)
    assert "rolling" not in kinds(level)


def test_a_guessed_course_asks_for_rolling_ground_alone() -> None:
    from planbuilder.course.described import guessed_ground

    ground = guessed_ground("Saltmarsh Run", LIMITS, length_m=HALF_MARATHON_M, why="No course is given.")
    course = build_course(ground, "block.toml", LIMITS, certified_m=HALF_MARATHON_M, force=False)
    found = demands_of(course)
    assert (found.course_class, [demand.kind for demand in found.demands]) == ("rolling", ["rolling"])
    assert "assumed" in found.class_why


def test_demands_come_in_race_order_and_say_why(tmp_path: Path) -> None:
    found = demands_of(course_of((0, 90), (1200, 60), (9000, 60), (9900, 95), (12_000, 60)))
    starts = [demand.start_m for demand in found.demands]
    assert starts == sorted(starts)
    for demand in found.demands:
        for system in ("km", "mi"):
            assert "{" not in say_in(demand.why, system)


def test_flattening_a_course_takes_its_hills_out_of_the_demands() -> None:
    hilly = course_of((0, 50), (7000, 50), (8000, 90), (10_000, 50))
    flat = course_of((0, 50), (7000, 50), (8000, 50), (10_000, 50))
    assert "late_climb" in kinds(hilly)
    assert kinds(flat) == {"long_flat"}
