"""A session lies on the same scale as the race: a kilometre is as wide, a metre of climb as high."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace

import numpy as np
import pytest

from planbuilder.outputs.pages.ground import ACROSS, land, picture, without_middles
from planbuilder.outputs.pages.session_ground import session_ground
from planbuilder.plan.types import Ground, Session, Step
from tests.outputs.sample_plan import sample_course, sample_features, sample_plan

COURSE = sample_course()
LAND = land(COURSE)


def points_of(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path)]


def session(session_id: str) -> Session:
    return next(session for session in sample_plan().sessions if session.id == session_id)


def by_hand(*steps: Step, distance_m: float) -> Session:
    return Session(
        id="w01-key",
        role="key",
        date=dt.date(2027, 3, 16),
        start_time=None,
        place="",
        kind="hill_repeats",
        title="Hills",
        steps=steps,
        distance_m=distance_m,
        duration_s=1800.0,
        hard=True,
        work_s=600.0,
        hard_s=600.0,
        climb_m=0.0,
        descent_work_s=0.0,
        course_specific=False,
        rehearses_m=(),
        why="",
        reasons=(),
    )


def step(ground: Ground, *, rpe: float, distance_m: float, repeat: int = 1, set_no: int = 0) -> Step:
    return Step("work", repeat, None, distance_m, (rpe, rpe), None, ground, "", set_no)


def test_the_long_run_is_as_wide_as_its_kilometres_and_as_high_as_its_climb() -> None:
    drawn = session_ground(session("w01-long"), LAND, sample_features())
    assert drawn is not None
    (climb_from, foot_y), (climb_to, top_y) = points_of(drawn.work)
    per_m = LAND.scale.px_per_m
    assert climb_from == pytest.approx(14000 / COURSE.distance_m * ACROSS, abs=0.1)  # 14 km of flat first
    assert climb_to == pytest.approx(16000 / COURSE.distance_m * ACROSS, abs=0.1)
    assert foot_y - top_y == pytest.approx(2000 * 0.034 * per_m, abs=0.2)  # 2 km at 3.4 %


def test_the_stretch_it_rehearses_is_cut_out_of_the_race_at_its_place() -> None:
    drawn = session_ground(session("w01-long"), LAND, sample_features())
    assert drawn is not None
    (stretch,) = drawn.stretches
    across = [x for x, _ in points_of(stretch.path)]
    assert min(across) == pytest.approx(13000 / COURSE.distance_m * ACROSS, abs=0.1)
    assert max(across) == pytest.approx(16800 / COURSE.distance_m * ACROSS, abs=0.1)
    assert stretch.labels == (("km", "km 13.0–16.8"), ("mi", "mile 8.1–10.4"))
    assert "climb 1" in drawn.caption


def test_easy_running_is_a_line_and_work_is_a_bar() -> None:
    drawn = session_ground(session("w01-club"), LAND, ())
    assert drawn is not None
    assert drawn.work.count("M") == 3  # three times eight minutes
    assert drawn.easy.count("M") == 4  # warm-up, two jogs, cool-down


def test_easy_running_on_the_level_is_a_single_line() -> None:
    easy, club = (session_ground(session(name), LAND, ()) for name in ("w01-easy", "w01-club"))
    assert easy is not None
    assert club is not None
    assert (easy.level, club.level) == (True, False)
    assert easy.end_at == f"{session('w01-easy').distance_m / COURSE.distance_m * 100:.2f}%"


def test_strength_has_no_ground() -> None:
    assert session_ground(session("w01-strength"), LAND, ()) is None


def test_a_jog_down_of_unknown_grade_ends_at_the_foot_of_the_hill() -> None:
    hills = by_hand(
        step(Ground("up", 0.05), rpe=8, distance_m=400, repeat=3, set_no=1),
        step(Ground("down"), rpe=2, distance_m=300, repeat=3, set_no=1),
        distance_m=2100.0,
    )
    drawn = session_ground(hills, LAND, ())
    assert drawn is not None
    ends = [points_of("M" + line)[-1][1] for line in drawn.easy.split("M")[1:]]
    starts = [points_of("M" + line)[0][1] for line in drawn.work.split("M")[1:]]
    assert ends == pytest.approx([starts[0]] * 3, abs=0.1)


def test_a_machine_is_drawn_as_a_broken_line() -> None:
    drawn = session_ground(
        by_hand(step(Ground("treadmill", 0.04), rpe=6, distance_m=3000), distance_m=3000.0), LAND, ()
    )
    assert drawn is not None
    assert drawn.indoors
    assert drawn.caption == "Treadmill at 4\N{NO-BREAK SPACE}%."


def test_rolling_ground_without_a_profile_comes_back_to_its_level() -> None:
    drawn = session_ground(
        by_hand(step(Ground("rolling"), rpe=3, distance_m=6000), distance_m=6000.0), LAND, ()
    )
    assert drawn is not None
    line = points_of(drawn.easy)
    assert line[0][1] == line[-1][1]
    assert len({y for _, y in line}) == 2


def test_a_run_longer_than_the_race_widens_the_scale_of_all_sessions() -> None:
    wide = land(COURSE, width_m=30000.0)
    assert wide.scale.across(30000.0) == pytest.approx(ACROSS)
    assert wide.scale.px_per_m == LAND.scale.px_per_m


def test_thinning_keeps_the_course_within_a_pixel() -> None:
    at = np.linspace(0.0, COURSE.distance_m, 2001)
    drawn = np.interp(at, LAND.at_m, LAND.height_m)
    true = np.interp(at, COURSE.at_m, COURSE.height_m)
    assert float(np.abs(drawn - true).max()) * LAND.scale.px_per_m < 1.5
    assert len(LAND.at_m) < 60


def test_points_on_a_straight_are_left_out() -> None:
    line = [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 0.0)]
    assert without_middles(line, off_m=0.01) == [(0.0, 0.0), (2.0, 2.0), (3.0, 0.0)]


def test_names_over_the_ground_do_not_meet_on_a_phone() -> None:
    drawn = picture(LAND, sample_features())
    by_row: dict[float, list[tuple[float, float]]] = {}
    for label in drawn.labels:
        middle = float(label.at.rstrip("%")) / 100 * 340
        half = len(label.text) * 6.6 / 2
        by_row.setdefault(label.y, []).append((middle - half, middle + half))
    for boxes in by_row.values():
        for (_, right), (left, _) in zip(sorted(boxes), sorted(boxes)[1:], strict=False):
            assert right < left


@pytest.mark.parametrize(
    "rehearsed",
    [
        ((15000.0, 16800.0), (17500.0, 19000.0)),
        ((2000.0, 4000.0), (4500.0, 6000.0), (6500.0, 8000.0)),
        ((0.0, 800.0), (1000.0, 1800.0), (19500.0, 20300.0), (20400.0, 21000.0)),
    ],
)
def test_every_stretch_of_a_session_is_labelled_and_no_label_touches_another(
    rehearsed: tuple[tuple[float, float], ...],
) -> None:
    """On a phone of 340 pixels, with letters of 6.6: from memory, as for the names above."""
    drawn = session_ground(replace(session("w01-long"), rehearses_m=rehearsed), LAND, ())
    assert drawn is not None
    assert len(drawn.stretches) == len(rehearsed)
    for unit in (0, 1):
        boxes: dict[float, list[tuple[float, float]]] = {}
        for stretch in drawn.stretches:
            wide = len(stretch.labels[unit][1]) * 6.6
            middle = float(stretch.at.rstrip("%")) / 100 * 340
            left = {"start": middle, "middle": middle - wide / 2, "end": middle - wide}[stretch.anchor]
            boxes.setdefault(stretch.y, []).append((left, left + wide))
        for row in boxes.values():
            for (_, right), (left, _) in zip(sorted(row), sorted(row)[1:], strict=False):
                assert right < left
    lowest = max(stretch.y for stretch in drawn.stretches)
    assert drawn.race_y >= lowest  # the letters stand above the land


def test_the_decisive_climb_is_named_in_large_letters_on_a_phone_too() -> None:
    labels = picture(LAND, sample_features()).labels
    assert [label.close for label in labels if label.strong] == [False]
    assert any(label.close for label in labels)


def test_no_tick_touches_the_length_at_the_finish_on_a_phone() -> None:
    short = replace(COURSE, distance_m=10000.0)
    for course in (COURSE, short):
        drawn = picture(land(course), ())
        for ticks in (drawn.ticks_km, drawn.ticks_mi):
            *others, last = ticks
            left = 340 - len(last.text) * 6.6
            ends = [float(t.at.rstrip("%")) / 100 * 340 + len(t.text) * 6.6 / 2 for t in others[1:]]
            assert max(ends) < left - 4


def test_the_decisive_climb_is_marked_on_the_race() -> None:
    (shade,) = picture(LAND, sample_features()).shades
    across = [x for x, _ in points_of(shade.path)]
    assert min(across) == pytest.approx(15000 / COURSE.distance_m * ACROSS, abs=0.1)


def test_the_course_page_tones_the_steep_ground_and_strokes_every_split() -> None:
    drawn = picture(LAND, sample_features(), grades=True)
    assert {shade.tone for shade in drawn.shades} >= {"up2", "down1"}
    assert drawn.splits_km.count("M") == 21
    assert drawn.splits_mi.count("M") == 13
