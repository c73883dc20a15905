"""Whatever a coach has becomes a course: a file with laps, points, words, or nothing."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planbuilder.course import (
    Course,
    check_wordings,
    draw_profile,
    find_features,
    make_splits,
    read_course,
    read_course_file,
    remarks_of,
    splits_with_wordings,
    with_wordings,
)
from planbuilder.settings.models import RaceSettings
from planbuilder.settings.problems import InputProblems
from planbuilder.units import HALF_MARATHON_M, MILE_M, say_in
from tests.course.hand_made import LIMITS, HandMade, gpx_of, sine, winding


def race(**more: Any) -> RaceSettings:
    given = {"name": "Saltmarsh Run", "date": dt.date(2027, 5, 16), "distance": "8 km", "timezone": "UTC"}
    return RaceSettings.model_validate({**given, **more})


def course_in(folder: Path, made: HandMade | None = None, **more: Any) -> Course:
    (folder / "course.gpx").write_text((made or sine()).gpx())
    return read_course(race(**{"course": "course.gpx", **more}), folder, LIMITS)


def circle(length_m: float, *, drift_m: float = 0.0) -> HandMade:
    """A loop that closes, once up and down by 20 m; ``drift_m`` is what a barometer adds on the way."""
    n = round(length_m / 10)
    at = np.arange(n + 1) * length_m / n
    base = winding(at, 50 + 10 * np.sin(2 * np.pi * at / length_m) + drift_m * at / length_m)
    turn = 2 * np.pi * at / length_m
    radius_deg = length_m / (2 * np.pi) / 111_000
    return HandMade(
        10 + radius_deg * np.sin(turn), 20 + radius_deg * np.cos(turn) / np.cos(np.radians(10)), base.ele
    )


def test_a_file_named_in_the_block_is_the_course(tmp_path: Path) -> None:
    course = course_in(tmp_path)
    assert (course.name, course.distance_m, course.certified, course.known) == (
        "Saltmarsh Run",
        8000,
        True,
        True,
    )
    assert course.ascent_m == pytest.approx(80, abs=1)


@pytest.mark.parametrize("name", ["../course.gpx", "/etc/hostname", ".", "a/../../course.gpx", "\0"])
def test_a_course_file_never_lies_outside_the_block_folder(name: str, tmp_path: Path) -> None:
    (tmp_path / "course.gpx").write_text(sine().gpx())
    block = tmp_path / "block"
    block.mkdir()
    with pytest.raises(InputProblems, match="must be a file inside the block folder"):
        read_course(race(course="course.gpx").model_copy(update={"course": name}), block, LIMITS)


def test_a_link_that_leaves_the_block_folder_is_refused(tmp_path: Path) -> None:
    (tmp_path / "course.gpx").write_text(sine().gpx())
    block = tmp_path / "block"
    block.mkdir()
    (block / "course.gpx").symlink_to(tmp_path / "course.gpx")
    with pytest.raises(InputProblems, match="must be a file inside the block folder"):
        read_course(race(course="course.gpx"), block, LIMITS)


def test_a_missing_file_is_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match=r"lost\.gpx: must be there, not missing"):
        read_course(race(course="lost.gpx"), tmp_path, LIMITS)


def test_another_course_is_refused_unless_forced(tmp_path: Path) -> None:
    with pytest.raises(
        InputProblems, match=r"must be the course of the race, 10\.00 km, not one of 8\.00 km"
    ):
        course_in(tmp_path, distance="10 km")
    forced = read_course(race(course="course.gpx", distance="10 km"), tmp_path, LIMITS, force=True)
    assert forced.distance_m == 10_000
    assert any(note.kind == "caution" and "another course" in note.text for note in forced.notes)


@pytest.mark.parametrize(
    ("certified", "kind"),
    [(8030, None), (7850, None), (7800, "info"), (7700, "caution"), (7250, "caution"), (8100, "caution")],
)
def test_the_scale_is_told_as_loudly_as_it_deserves(
    certified: float, kind: str | None, tmp_path: Path
) -> None:
    course = course_in(tmp_path, distance=f"{certified} m")
    told = [note.kind for note in course.notes if note.rule == "course.scale_warn"]
    assert told == ([] if kind is None else [kind])


def test_what_the_file_says_of_itself_holds_no_metres_in_miles(tmp_path: Path) -> None:
    notes = {note.rule: note.text for note in course_in(tmp_path, circle(8000.0)).notes}
    for rule, km, miles in (
        ("course.smoothing_m", "rises of 3 m and more, smoothed over 40 m", "rises of 10 ft and more, "),
        ("course.source", "a point about every ", "a point about every "),
    ):
        assert km in say_in(notes[rule], "km")
        assert miles in say_in(notes[rule], "mi")
        assert not re.search(r"\d m\b", say_in(notes[rule], "mi"))


def test_three_laps_are_three_times_the_lap(tmp_path: Path) -> None:
    lap = circle(3000)
    course = course_in(tmp_path, lap, course={"file": "course.gpx", "laps": 3}, distance="9 km")
    assert course.measured_m == pytest.approx(3 * lap.length_m, rel=1e-6)
    assert course.ascent_m == pytest.approx(60, abs=2)
    assert course.descent_m == pytest.approx(course.ascent_m, abs=0.1)


def test_a_barometer_that_drifts_does_not_make_stairs_of_laps(tmp_path: Path) -> None:
    course = course_in(
        tmp_path, circle(3000, drift_m=9.0), course={"file": "course.gpx", "laps": 3}, distance="9 km"
    )
    assert course.ascent_m == pytest.approx(60, abs=3)
    assert any("was spread over the lap" in note.text for note in course.notes)


def test_a_recorded_loop_that_ends_higher_than_it_began_has_drifted(tmp_path: Path) -> None:
    text = circle(3000, drift_m=9.0).gpx()
    timed = text.replace("</ele>", "</ele><time>2027-01-01T00:00:00Z</time>")
    (tmp_path / "course.gpx").write_text(timed)
    course = read_course(race(course="course.gpx", distance="3 km"), tmp_path, LIMITS)
    assert any("9 m higher: the heights drifted" in say_in(note.text, "km") for note in course.notes)


def test_of_two_tracks_of_the_same_loop_the_race_is_one(tmp_path: Path) -> None:
    lap = circle(3000)
    (tmp_path / "course.gpx").write_text(gpx_of([lap.points(), lap.points()], tracks=True))
    course = read_course(race(course="course.gpx", distance="3 km"), tmp_path, LIMITS)
    assert course.measured_m == pytest.approx(lap.length_m, rel=1e-6)
    assert any("2 separate lines" in note.text for note in course.notes)


def test_of_separate_lines_the_longest_is_the_course_and_the_rest_is_told(tmp_path: Path) -> None:
    made = sine()
    far = HandMade(made.lat + 0.5, made.lon, made.ele)
    (tmp_path / "course.gpx").write_text(gpx_of([made.points(), far.points()[:200]], tracks=True))
    course = read_course_file(tmp_path / "course.gpx", shown_as="course.gpx", limits=LIMITS)
    assert course.measured_m == pytest.approx(8000, abs=0.5)
    assert any("Left out: 2.0 km" in say_in(note.text, "km") for note in course.notes)


def test_laps_of_a_table_are_laps_too(tmp_path: Path) -> None:
    (tmp_path / "lap.csv").write_text("distance m,elevation m\n0,10\n1000,30\n2000,10\n")
    course = read_course(race(course={"file": "lap.csv", "laps": 4}), tmp_path, LIMITS)
    assert course.measured_m == pytest.approx(8000)
    assert course.ascent_m == pytest.approx(4 * 20, rel=0.1)
    assert all("inf" not in note.text for note in course.notes)


def test_there_and_back_climbs_what_it_falls(tmp_path: Path) -> None:
    course = course_in(tmp_path, course={"file": "course.gpx", "out_and_back": True}, distance="16 km")
    assert course.measured_m == pytest.approx(16_000, abs=1)
    assert course.ascent_m == pytest.approx(course.descent_m, abs=1e-6)


def test_reverse_runs_the_file_the_other_way(tmp_path: Path) -> None:
    there = course_in(tmp_path)
    back = course_in(tmp_path, course={"file": "course.gpx", "reverse": True})
    assert back.height_m == pytest.approx(there.height_m[::-1] - there.height_m[-1], abs=1e-6)


def test_from_and_to_cut_the_file(tmp_path: Path) -> None:
    course = course_in(tmp_path, course={"file": "course.gpx", "from": "1 km", "to": "5 km"}, distance="4 km")
    assert course.measured_m == pytest.approx(4000, abs=0.01)
    assert course.descent_m == pytest.approx(40, abs=1)
    with pytest.raises(InputProblems, match="must be run from a place to a later one"):
        course_in(tmp_path, course={"file": "course.gpx", "from": "5 km", "to": "1 km"})


def test_typed_points_of_a_printed_profile_make_a_course(tmp_path: Path) -> None:
    points = [
        {"distance": "0 km", "elevation": "20 m"},
        {"distance": "5 km", "elevation": "20 m"},
        {"distance": "6 km", "elevation": "60 m"},
        {"distance": "8 km", "elevation": "50 m"},
    ]
    course = read_course(race(point=points), tmp_path, LIMITS)
    assert (course.source, course.known) == ("typed points", True)
    climb = next(feature for feature in find_features(course, LIMITS) if feature.kind == "climb")
    assert (climb.start_m, climb.end_m, climb.gain_m) == pytest.approx((5000, 6000, 40), abs=60)
    with pytest.raises(InputProblems, match="must come in the order of the race, not 5 km after 6 km"):
        read_course(race(point=[points[0], points[2], points[1]]), tmp_path, LIMITS)


def test_a_description_in_words_makes_a_course(tmp_path: Path) -> None:
    stretches = [
        {"from": "0 km", "to": "1 km", "words": "falls 8 m"},
        {"from": "1 km", "to": "4 km", "words": "flat"},
        {"from": "4 km", "to": "5 km", "words": "climbs at 3 %"},
        {"from": "5 km", "to": "7 km", "words": "rolling"},
        {"from": "7 km", "to": "8 km", "words": "drags up 12 m to the line"},
    ]
    course = read_course(race(stretch=stretches), tmp_path, LIMITS)
    kinds = [feature.kind for feature in find_features(course, LIMITS)]
    assert course.source == "described"
    assert course.height_m[-1] == pytest.approx(-8 + 30 + 12, abs=0.01)
    assert {"downhill_start", "flat", "climb", "rolling", "finish_drag"} <= set(kinds)
    assert any(note.kind == "assumed" for note in course.notes)


@pytest.mark.parametrize(
    ("words", "rise"),
    [
        ("climbs 12 m", 12),
        ("drops 40 ft", -12.192),
        ("up 30 m", 30),
        ("downhill at 1.5 %", -15),
        ("climbs gently", 10),
        ("a steep climb", 60),
        ("level", 0),
        ("rolling, up and down", 0),
    ],
)
def test_words_about_a_kilometre_of_ground_are_understood(words: str, rise: float, tmp_path: Path) -> None:
    course = read_course(race(stretch=[{"from": "3 km", "to": "4 km", "words": words}]), tmp_path, LIMITS)
    assert course.height_m[-1] == pytest.approx(rise, abs=0.01)


@pytest.mark.parametrize(
    ("stretch", "sentence"),
    [
        ({"from": "1 km", "to": "2 km", "words": "pretty"}, r"must say what the ground does, not 'pretty'"),
        ({"from": "1 km", "to": "2 km", "words": "climbs"}, r"must say what the ground does, not 'climbs'"),
        ({"from": "3 km", "to": "2 km", "words": "flat"}, r"must run from a place to a later one"),
        ({"from": "3 km", "to": "12 km", "words": "flat"}, r"must end by the line at 8 km"),
    ],
)
def test_words_that_say_nothing_are_refused(stretch: dict[str, str], sentence: str, tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match=sentence):
        read_course(race(stretch=[stretch]), tmp_path, LIMITS)


def test_without_a_course_the_ground_is_a_rolling_guess_and_says_so(tmp_path: Path) -> None:
    course = read_course(race(distance="half marathon"), tmp_path, LIMITS)
    assert (course.known, course.distance_m) == (False, HALF_MARATHON_M)
    assert course.ascent_m / 21.0975 == pytest.approx(6, abs=0.5)
    assert [note.kind for note in course.notes] == ["assumed"]
    assert [feature.name for feature in find_features(course, LIMITS)] == ["unknown ground"]


def test_the_organisers_climb_is_a_check_and_never_rescales(tmp_path: Path) -> None:
    course = course_in(tmp_path, published_ascent="200 m")
    assert course.ascent_m == pytest.approx(80, abs=1)
    assert any("organiser" in note.text for note in course.notes)
    assert not any("organiser" in note.text for note in course_in(tmp_path, published_ascent="90 m").notes)


def test_the_coachs_notes_and_stations_stand_at_their_places() -> None:
    settings = race(
        note=[{"at": "4.2 mi", "text": "sharp left, cobbles"}, {"at": "1 km", "text": "narrow"}],
        station=[{"at": "5 km", "has": "water"}],
    )
    remarks = remarks_of(settings)
    assert [(remark.at_m, remark.text, remark.station) for remark in remarks] == [
        (1000, "narrow", False),
        (5000, "water", True),
        (pytest.approx(4.2 * MILE_M), "sharp left, cobbles", False),
    ]


def test_the_coachs_sentence_stands_in_place_of_ours(tmp_path: Path) -> None:
    wordings = [
        {"of": "Climb 2", "text": "The one with the chapel."},
        {"of": "mile 3", "text": "Find a group."},
    ]
    settings = race(wording=wordings)
    course = course_in(tmp_path)
    features = find_features(course, LIMITS)
    check_wordings(settings, course, features)
    said = {feature.name: feature.words for feature in with_wordings(features, settings.wordings)}
    assert said["climb 2"] == "The one with the chapel."
    assert "chapel" not in said["climb 1"]
    miles = splits_with_wordings(make_splits(course, "mi", LIMITS), settings.wordings, "mi")
    kilometres = splits_with_wordings(make_splits(course, "km", LIMITS), settings.wordings, "km")
    assert miles[2].words == "Find a group."
    assert all(split.words != "Find a group." for split in kilometres)


def test_a_sentence_about_nothing_on_the_course_is_a_problem(tmp_path: Path) -> None:
    course = course_in(tmp_path)
    settings = race(
        wording=[{"of": "climb 7", "text": "x"}, {"of": "km 9", "text": "x"}],
        note=[{"at": "30 km", "text": "x"}],
    )
    with pytest.raises(
        InputProblems, match=r"must name a feature or a split of the course, not 'climb 7'"
    ) as caught:
        check_wordings(settings, course, find_features(course, LIMITS))
    assert len(caught.value.problems) == 3


@pytest.mark.parametrize("width", [20, 40, 80, 200])
@pytest.mark.parametrize("plain", [True, False])
def test_the_picture_keeps_to_the_width_of_the_terminal(width: int, plain: bool, tmp_path: Path) -> None:
    course = course_in(tmp_path)
    picture = draw_profile(course, find_features(course, LIMITS), width=width, system="km", plain=plain)
    assert max(len(line) for line in picture.splitlines()) <= max(width, 30)
    assert picture.isascii() or not plain
    assert "0 km" in picture


def test_the_picture_of_level_ground_is_a_low_line(tmp_path: Path) -> None:
    at = np.arange(0, 8001, 10.0)
    course = course_in(tmp_path, winding(at, 5 + at * 1e-4))
    picture = draw_profile(course, (), width=60, system="mi", plain=True)
    assert picture.count("#") < 2 * 60
