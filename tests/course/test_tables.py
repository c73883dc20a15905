"""Tables of distances and heights, in any common unit and under any sensible heading."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from planbuilder.course import find_features, read_course_file
from planbuilder.settings.problems import InputProblems
from planbuilder.units import FOOT_M, MILE_M
from tests.course.hand_made import LIMITS, read

AT = np.linspace(0, 8000, 161)
HEIGHT = 250 + 20 * np.sin(2 * np.pi * AT / 4000)


def table(
    heading: str, *, at: float = 1.0, up: float = 1.0, separator: str = ",", comma: bool = False
) -> str:
    rows = [f"{d / at:.6f}{separator}{z / up:.6f}" for d, z in zip(AT, HEIGHT, strict=True)]
    text = "\n".join(rows)
    return heading + "\n" + (text.replace(".", ",") if comma else text) + "\n"


TABLES = {
    "metres": table("distance_m,elevation_m"),
    "kilometres": table("Distance (km),Elevation (m)", at=1000),
    "miles and feet": table("mile,ele ft", at=MILE_M, up=FOOT_M),
    "feet and feet": table("Distance [feet],Altitude [feet]", at=FOOT_M, up=FOOT_M),
    "camel case": table("distanceKm,elevationMetres", at=1000),
    "kilometres without a word": table("km,height", at=1000),
    "no units, metres": table("distance,elevation"),
    "no units, kilometres": table("dist,alt", at=1000),
    "semicolons and decimal commas": table("Distance km;Elevation m", at=1000, separator=";", comma=True),
    "tabs": table("distance km\televation m", at=1000, separator="\t"),
    "a comment first": "# surveyed\n\n" + table("distance m,elevation m"),
    "more columns": "name,distance m,note,elevation m\n"
    + "".join(f'p,{d},"a, b",{z}\n' for d, z in zip(AT, HEIGHT, strict=True)),
    "the other way round": "elevation m,distance m\n"
    + "".join(f"{z},{d}\n" for d, z in zip(AT, HEIGHT, strict=True)),
    "blank lines": table("distance m,elevation m").replace("\n", "\n\n"),
    "thousands": "distance m,elevation m\n"
    + "".join(f'"{d:,.1f}",{z}\n' for d, z in zip(AT, HEIGHT, strict=True)),
}


@pytest.mark.parametrize("name", TABLES)
def test_a_table_gives_the_course_it_describes(name: str, tmp_path: Path) -> None:
    course = read(TABLES[name], tmp_path, "course.csv")
    assert course.distance_m == pytest.approx(8000, rel=1e-4)
    assert course.ascent_m == pytest.approx(80, abs=1)
    assert course.descent_m == pytest.approx(80, abs=1)
    assert course.source == "surveyed table"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_a_table_may_come_in_any_encoding(encoding: str, tmp_path: Path) -> None:
    text = table("distance m (Höhe),elevation m")
    assert read(text.encode(encoding), tmp_path, "course.csv").ascent_m == pytest.approx(80, abs=1)


def test_a_bare_column_of_miles_is_told_by_the_length_of_the_race(tmp_path: Path) -> None:
    course = read(table("distance,elevation m", at=MILE_M), tmp_path, "course.csv", distance_m=8000.0)
    assert course.measured_m == pytest.approx(8000, rel=1e-4)
    assert any("read as miles" in note.text for note in course.notes)


WRONG: dict[str, tuple[str | bytes, str]] = {
    "no distance": (
        "place,elevation m\n1,2\n",
        r"course.csv:1: must have a column for distance, not only 'place'",
    ),
    "no heights": ("distance km\n1\n2\n", r"must have a column for elevation"),
    "a word": (
        "distance m,elevation m\n0,1\nhalfway,2\n900,3\n",
        r"course.csv:3: distance must be a number, not 'halfway'",
    ),
    "not in order": ("distance m,elevation m\n0,1\n900,2\n500,3\n", r"course.csv:4: distance must grow"),
    "negative": ("distance m,elevation m\n-10,1\n900,2\n", r"course.csv:2: distance must be 0 or more"),
    "infinite": ("distance m,elevation m\n0,1\ninf,2\n", r"course.csv:3: distance must be a number"),
    "one row": ("distance m,elevation m\n0,1\n", r"at least two rows"),
    "too long a row": ("distance m,elevation m\n0,1\n900,2,3,4\n", r"course.csv:3: must have as many cells"),
    "metres that are kilometres": ("distance m,elevation m\n0,1\n10,2\n", r"at least 200 m, not 10 m"),
    "a byte order mark and nothing more": (b"\xfe\xff", r"not an empty file"),
    "another kind of file": ("\x00\x01\x02,\n", r"not a file of another kind"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_table_is_refused_with_its_line(name: str, tmp_path: Path) -> None:
    content, sentence = WRONG[name]
    with pytest.raises(InputProblems, match=sentence):
        read(content, tmp_path, "course.csv")


def test_all_wrong_rows_are_told_in_one_run(tmp_path: Path) -> None:
    rows = "".join(f"x{n},1\n" for n in range(20))
    with pytest.raises(InputProblems, match="distance must be a number") as caught:
        read("distance m,elevation m\n" + rows, tmp_path, "course.csv")
    assert len(caught.value.problems) == 6
    assert "15 more" in str(caught.value.problems[-1])


def test_missing_heights_in_a_table_are_bridged(tmp_path: Path) -> None:
    rows = [f"{d:.0f},{'' if 40 < n < 46 else z}" for n, (d, z) in enumerate(zip(AT, HEIGHT, strict=True))]
    course = read("distance m,elevation m\n" + "\n".join(rows), tmp_path, "course.csv")
    assert course.ascent_m == pytest.approx(80, abs=1)


QUARTERS = np.arange(0, 10.01, 0.25)
HILL_FT = np.interp(QUARTERS, [0, 2, 4, 6, 8, 10], [400, 420, 400, 410, 850, 600])


def typed(heading: str, every: int = 1, up: float = 1.0) -> str:
    rows = [f"{mile},{z * up:.1f}" for mile, z in zip(QUARTERS[::every], HILL_FT[::every], strict=True)]
    return heading + "\n" + "\n".join(rows) + "\n"


@pytest.mark.parametrize("every", [1, 2, 4])
def test_a_table_typed_by_hand_has_its_climb_as_typed_points_have(every: int, tmp_path: Path) -> None:
    """440 ft in 2 miles of 5,280 ft are 4.2 %; the start of the climb is rounded by the smoothing."""
    course = read(typed("mile,height ft", every), tmp_path, "course.csv")
    (climb,) = [one for one in find_features(course, LIMITS) if one.kind == "climb"]
    assert (climb.start_m / MILE_M, climb.end_m / MILE_M) == pytest.approx((6, 8), abs=0.1)
    assert climb.grade == pytest.approx(440 / 10560, abs=0.001)
    assert not course.climb_uncertain
    assert any("typed from" in note.text for note in course.notes)


def test_a_table_that_is_too_coarse_says_which_spacing_would_do(tmp_path: Path) -> None:
    course = read("km,height m\n0,20\n5,60\n10,20\n15,80\n", tmp_path, "course.csv")
    assert course.sparse
    (note,) = [note for note in course.notes if note.rule == "course.typed_sparse_m"]
    assert "A point every {l:4000} would do, and one at the foot and the top of each hill." in note.text


def test_bare_heights_beside_miles_are_feet_where_metres_would_be_a_wall(tmp_path: Path) -> None:
    course = read(typed("mile,height"), tmp_path, "course.csv")
    assert course.ascent_m == pytest.approx((20 + 10 + 440) * FOOT_M, abs=3)
    assert (course.notes[0].rule, course.notes[0].kind) == ("course.bare_height_grade", "assumed")
    assert "read as feet" in course.notes[0].text


@pytest.mark.parametrize(("heading", "up"), [("mile,height", FOOT_M), ("km,height", 0.5)])
def test_bare_heights_stay_metres_where_they_give_a_road(heading: str, up: float, tmp_path: Path) -> None:
    course = read(typed(heading, up=up), tmp_path, "course.csv")
    assert course.ascent_m == pytest.approx((20 + 10 + 440) * up, rel=0.02)
    assert (course.notes[0].text, course.notes[0].kind) == (
        "The height column names no unit; it was read as metres.",
        "assumed",
    )


def test_what_was_assumed_of_a_table_stands_above_all_else(tmp_path: Path) -> None:
    path = tmp_path / "hill.csv"
    path.write_text(typed("mile,height"), "utf-8")
    command = [sys.executable, "-m", "planbuilder.cli", "course", str(path)]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert said.splitlines()[2].startswith("Assumed: The height column names no unit; it was read as feet")


def test_a_table_that_is_too_long_for_a_course_is_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match="at most 500 km, not 100000 km"):
        read("km,height m\n0,1\n100000,2\n", tmp_path, "course.csv")


def test_a_device_is_no_course() -> None:
    with pytest.raises(InputProblems, match="must be a file that can be read, not a folder or a device"):
        read_course_file(Path("/dev/zero"), shown_as="zero", limits=LIMITS)
