"""A stretch on the treadmill: the published level correction, the machine's limits, the runner's limits."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planbuilder.course.types import Course
from planbuilder.outputs.treadmill_table import HEADER, programme_csv, programme_rows
from planbuilder.physiology.gradient import pace_factor
from planbuilder.rehearse import (
    TreadmillMinute,
    TreadmillProgramme,
    Wanted,
    treadmill_of,
    treadmill_programme,
)
from planbuilder.rehearse.treadmill import level_correction
from planbuilder.rehearse.wanted import wanted
from planbuilder.runner.types import Band, Paces
from planbuilder.settings.limits import Limits, default_limits
from planbuilder.settings.models import Injury, RunnerSettings, Treadmill
from planbuilder.settings.session_models import BandName
from planbuilder.units import say_in

RUNNER = RunnerSettings(name="Ines A", screening="passed", treadmill=True)


def _paces(race_s_per_km: float | None = 290.0, easy_s_per_km: float = 350.0) -> Paces:
    def band(name: BandName, rpe: tuple[float, float], pace: float | None, width: float) -> Band:
        fast, slow = (None, None) if pace is None else (pace * (1 - width), pace * (1 + width))
        return Band(name, *rpe, "", fast, slow, None, None, "")

    easy = None if race_s_per_km is None else easy_s_per_km
    bands = (band("easy", (2, 4), easy, 0.05), band("race effort", (6, 7), race_s_per_km, 0.02))
    return Paces(bands, "", easy_s_per_km)


@pytest.fixture
def course(make_course: Callable[..., Course]) -> Course:
    """Level, then 1,200 m up at 4 %, 600 m up at 14 %, 2,000 m down at 5 %."""
    return make_course([(0, 0), (3000, 0), (4200, 48), (4800, 132), (6800, 32), (8000, 32)])


def _stretch(course: Course, start_m: float, end_m: float, name: str = "climb 1") -> Wanted:
    return wanted(course, "climb", name, start_m, end_m, limits=default_limits())


def _programme(
    course: Course,
    start_m: float,
    end_m: float,
    limits: Limits,
    *,
    runner: RunnerSettings = RUNNER,
    machine: Treadmill | None = None,
    paces: Paces | None = None,
) -> TreadmillProgramme:
    stretch = _stretch(course, start_m, end_m)
    return treadmill_programme(course, stretch, runner, paces or _paces(), machine or Treadmill(), limits)


def _minutes(programme: TreadmillProgramme) -> list[TreadmillMinute]:
    return [minute for minute in programme.minutes if minute.part == "stretch"]


@pytest.mark.parametrize("speed_mps", [2.92, 3.33, 3.75, 4.17, 4.58, 5.0])
def test_level_road_is_run_at_one_percent_at_the_speeds_that_were_measured(
    speed_mps: float, limits: Limits
) -> None:
    """Jones and Doust 1996, J Sports Sci 14:321: from 2.92 to 5.0 m/s (speeds between from memory)."""
    assert level_correction(speed_mps, limits) == 0.01


def test_slower_than_measured_nothing_is_added_and_that_is_said(course: Course, limits: Limits) -> None:
    slow = _programme(course, 0, 3000, limits, paces=_paces(400.0, 450.0))
    assert level_correction(2.91, limits) == 0.0
    assert {minute.grade for minute in _minutes(slow)} == {0.0}
    assert "slower than that, so nothing is added" in slow.level_correction


def test_faster_than_measured_the_point_is_called_a_guess(course: Course, limits: Limits) -> None:
    quick = _programme(
        course,
        0,
        3000,
        limits,
        paces=_paces(190.0, 270.0),
        machine=Treadmill.model_validate({"max_speed": "25 km/h"}),
    )
    assert {minute.grade for minute in _minutes(quick)} == {0.01}
    assert "the point is a guess here" in quick.level_correction


def test_the_range_reads_in_the_runners_units(course: Course, limits: Limits) -> None:
    words = _programme(course, 0, 3000, limits).level_correction
    assert "Measured from 5:43/km to 3:20/km" in say_in(words, "km")
    assert "Measured from 9:11/mi to 5:22/mi" in say_in(words, "mi")


def test_a_climb_is_the_roads_grade_plus_a_point(course: Course, limits: Limits) -> None:
    climb = _minutes(_programme(course, 3000, 4200, limits))
    assert all(minute.course_grade == pytest.approx(0.04, abs=0.001) for minute in climb)
    assert {minute.grade for minute in climb} == {0.05}
    assert all(minute.words == "" for minute in climb)


def test_minutes_cover_the_stretch_without_gaps_at_even_effort(course: Course, limits: Limits) -> None:
    programme = _programme(course, 2000, 8000, limits)
    minutes = _minutes(programme)
    spans = [minute.course_m for minute in minutes if minute.course_m is not None]
    assert spans[0][0] == pytest.approx(2000.0)
    assert spans[-1][1] == pytest.approx(8000.0)
    assert all(one[1] == pytest.approx(two[0]) for one, two in pairwise(spans))
    assert all(minute.duration_s == pytest.approx(60.0) for minute in minutes[:-1])
    middle = np.linspace(2000, 8000, 1201)[:-1] + 2.5
    even = float(np.sum(5.0 * 0.29 * pace_factor(np.interp(middle, course.at_m, course.grade))))
    assert sum(minute.duration_s for minute in minutes) == pytest.approx(even, rel=0.005)
    starts = np.cumsum([0.0, *(minute.duration_s for minute in programme.minutes)])
    assert [minute.start_s for minute in programme.minutes] == pytest.approx(starts[:-1].tolist())
    assert programme.duration_s == pytest.approx(starts[-1])


def test_it_warms_up_for_ten_minutes_and_cools_down_for_five(course: Course, limits: Limits) -> None:
    programme = _programme(course, 3000, 4200, limits)
    first, last = programme.minutes[0], programme.minutes[-1]
    assert (first.part, first.duration_s) == ("warm-up", 600.0)
    assert (last.part, last.duration_s) == ("cool-down", 300.0)
    assert first.effort_rpe == last.effort_rpe == (2, 4)


def test_too_steep_for_the_machine_keeps_the_effort_and_says_what_is_lost(
    course: Course, limits: Limits
) -> None:
    machine = Treadmill(max_grade_percent=10)
    minutes = _minutes(_programme(course, 4200, 4800, limits, machine=machine))
    assert {minute.grade for minute in minutes} == {0.10}
    assert "hold 10 %, quicker, at the same effort" in minutes[0].words
    steep = _minutes(_programme(course, 4200, 4800, limits, machine=Treadmill(max_grade_percent=20)))
    assert minutes[0].speed_mps is not None
    assert steep[0].speed_mps is not None
    assert minutes[0].speed_mps[0] > steep[0].speed_mps[0]
    said = " ".join(_programme(course, 4200, 4800, limits, machine=machine).cannot)
    assert "Ground steeper than 10 %" in said


def test_a_descent_is_never_run_down_on_a_machine_that_has_none(course: Course, limits: Limits) -> None:
    programme = _programme(course, 4800, 6800, limits)
    assert {minute.grade for minute in _minutes(programme)} == {0.0}
    assert "The descents (between km 4.8 and km 6.8)" in say_in(programme.cannot[0], "km")


def test_a_machine_that_tilts_down_goes_as_far_down_as_it_can(course: Course, limits: Limits) -> None:
    minutes = _minutes(_programme(course, 4800, 6800, limits, machine=Treadmill(descent_percent=3)))
    assert {minute.grade for minute in minutes[1:-1]} == {-0.03}


def test_too_fast_for_the_belt_adds_grade_in_place_of_speed(course: Course, limits: Limits) -> None:
    slow_belt = Treadmill.model_validate({"max_speed": "12 km/h"})
    quick = _paces(240.0, 300.0)  # 15 km/h
    minute = _minutes(_programme(course, 0, 3000, limits, machine=slow_belt, paces=quick))[0]
    assert minute.speed_mps is not None
    assert list(minute.speed_mps) == pytest.approx([12 / 3.6, 12 / 3.6])
    assert minute.grade > 0.01
    assert pace_factor(minute.grade - 0.01) == pytest.approx(15 / 12, abs=0.02)
    assert "grade in place of speed" in minute.words


def test_without_paces_the_minutes_are_run_by_effort(course: Course, limits: Limits) -> None:
    programme = _programme(course, 3000, 4200, limits, paces=_paces(None))
    assert all(minute.speed_mps is None for minute in programme.minutes)
    assert _minutes(programme)[0].effort_rpe == (6, 7)
    assert "by effort" in programme_rows(programme, "km")[1]


@settings(max_examples=60)
@given(
    grades=st.lists(st.floats(-0.15, 0.15), min_size=2, max_size=8),
    most=st.floats(0, 15),
    down=st.floats(0, 6),
    top_kmh=st.floats(8, 20),
    pace=st.floats(200, 480),
)
def test_no_minute_asks_for_more_than_the_machine_has(
    grades: list[float], most: float, down: float, top_kmh: float, pace: float
) -> None:
    height = np.concatenate([[0.0], np.cumsum(np.array(grades) * 400)])
    places = np.arange(len(height)) * 400.0
    at = np.linspace(0, places[-1], 40 * len(grades) + 1)
    profile = np.interp(at, places, height)
    course = Course(
        *("Old Quay 5", places[-1], places[-1], at[1], profile, np.gradient(profile, at), 0.0, 0.0, 0.0, 0.0),
        source="typed points",
        known=True,
        climb_uncertain=False,
        notes=(),
    )
    machine = Treadmill.model_validate(
        {"max_grade_percent": most, "descent_percent": down, "max_speed": f"{top_kmh:.3f} km/h"}
    )
    programme = _programme(
        course, 0.0, float(places[-1]), default_limits(), machine=machine, paces=_paces(pace, pace * 1.2)
    )
    for minute in programme.minutes:
        assert -down / 100 - 1e-9 <= minute.grade <= most / 100 + 1e-9
        assert minute.grade * 200 == pytest.approx(round(minute.grade * 200), abs=1e-6)
        assert minute.speed_mps is not None
        assert 0 < minute.speed_mps[0] <= minute.speed_mps[1] <= top_kmh / 3.6 + 1e-3


@pytest.mark.parametrize("place", ["calf", "achilles", "plantar", "hamstring"])
def test_a_sore_calf_or_tendon_keeps_the_belt_level_and_is_never_named(
    place: str, course: Course, limits: Limits
) -> None:
    """No uphill of any kind and no treadmill grade with such a flag: common practice, no source."""
    injured = RUNNER.model_copy(update={"injuries": (Injury(place=place, pain=1),)})  # type: ignore[arg-type]
    programme = _programme(course, 3000, 4800, limits, runner=injured)
    assert {minute.grade for minute in programme.minutes} == {0.0}
    shown = [minute.words for minute in programme.minutes] + [note.text for note in programme.notes]
    assert place not in " ".join([programme.title, *shown, *programme.cannot])


def test_a_sore_knee_is_spared_the_machines_descent(course: Course, limits: Limits) -> None:
    injured = RUNNER.model_copy(update={"injuries": (Injury(place="knee", pain=1),)})
    programme = _programme(course, 4800, 6800, limits, runner=injured, machine=Treadmill(descent_percent=5))
    assert min(minute.grade for minute in programme.minutes) == 0.0


def test_a_runner_who_must_not_run_gets_no_programme(course: Course, limits: Limits) -> None:
    injured = RUNNER.model_copy(update={"injuries": (Injury(place="bone", pain=2),)})
    programme = _programme(course, 3000, 4200, limits, runner=injured)
    assert programme.minutes == ()
    assert programme.notes[0].kind == "refusal"


def test_a_pain_that_has_lasted_too_long_when_the_block_begins_stops_the_programme_as_it_stops_the_plan(
    course: Course, limits: Limits
) -> None:
    since = dt.date(2027, 3, 1)
    injured = RUNNER.model_copy(update={"injuries": (Injury(place="calf", pain=3, since=since),)})
    for days, runs in ((5, True), (20, False)):
        programme = treadmill_programme(
            course,
            _stretch(course, 3000, 4200),
            injured,
            _paces(),
            Treadmill(),
            limits,
            first_day=since + dt.timedelta(days=days),
        )
        assert bool(programme.minutes) == runs


def test_unanswered_health_questions_leave_easy_effort(course: Course, limits: Limits) -> None:
    unasked = RUNNER.model_copy(update={"screening": None})
    programme = _programme(course, 3000, 4200, limits, runner=unasked)
    assert max(minute.effort_rpe[1] for minute in programme.minutes) <= 4
    assert any(note.kind == "caution" for note in programme.notes)


def test_a_long_stretch_keeps_its_last_hour(make_course: Callable[..., Course], limits: Limits) -> None:
    long = make_course([(0, 0), (20_000, 100)])
    programme = _programme(long, 0, 20_000, limits)
    minutes = _minutes(programme)
    assert sum(minute.duration_s for minute in minutes) <= 3600.0 + 60.0
    assert minutes[-1].course_m is not None
    assert minutes[-1].course_m[1] == pytest.approx(20_000.0)
    assert programme.notes[0].kind == "given_up"


@pytest.mark.parametrize(
    ("given", "machine"),
    [(False, None), (True, Treadmill()), (Treadmill(max_grade_percent=6), Treadmill(max_grade_percent=6))],
)
def test_a_machine_that_is_only_mentioned_is_an_ordinary_one(
    given: bool | Treadmill, machine: Treadmill | None
) -> None:
    assert treadmill_of(RUNNER.model_copy(update={"treadmill": given})) == machine


def test_the_csv_reads_back_as_the_programme(course: Course, limits: Limits) -> None:
    programme = _programme(course, 3000, 6800, limits)
    rows = list(csv.DictReader(io.StringIO(programme_csv(programme, "km"))))
    assert len(rows) == len(programme.minutes)
    for row, minute in zip(rows, programme.minutes, strict=True):
        assert float(row["grade_percent"]) == pytest.approx(minute.grade * 100, abs=0.05)
        assert float(row["start_s"]) == pytest.approx(minute.start_s, abs=0.5)
        assert minute.speed_mps is not None
        assert float(row["speed_low"]) / 3.6 == pytest.approx(minute.speed_mps[0], abs=0.02)
        assert row["speed_unit"] == "km/h"
    assert rows[0]["course_from_m"] == ""


def test_the_table_reads_in_miles_an_hour_for_a_runner_in_miles(course: Course, limits: Limits) -> None:
    programme = _programme(course, 3000, 4200, limits)
    rows = programme_rows(programme, "mi")
    assert all(len(row) == len(HEADER) for row in rows)
    assert rows[1][3] == "mile 1.9"
    assert rows[1][5].endswith("mph")
    assert rows[1][6] == "RPE 6–7"
