"""A recording read: times, distance, heart rate; where it was run is not kept."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest

from planbuilder.course.recording import Recording, read_recording
from planbuilder.settings.limits import default_limits
from planbuilder.settings.problems import InputProblems

START = dt.datetime(2027, 5, 23, 8, 30, tzinfo=dt.UTC)
HEAD = (
    '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1" '
    'xmlns:x="urn:sensor"><trk><trkseg>'
)


def write(
    path: Path, *, seconds: int = 600, speed_mps: float = 3.0, rise: float = 0.0, beats: bool = True
) -> Path:
    """A run north along a meridian, a point a second; a degree there is 111 131.8 m at 45° N on WGS84."""
    rows = []
    for at in range(seconds + 1):
        latitude = 45.0 + at * speed_mps / 111_131.8
        pulse = f"<extensions><x:hr>{140 + at / 60:.0f}</x:hr></extensions>" if beats else ""
        rows.append(
            f'<trkpt lat="{latitude:.7f}" lon="7.0"><ele>{100 + rise * at * speed_mps:.2f}</ele>'
            f"<time>{(START + dt.timedelta(seconds=at)).isoformat()}</time>{pulse}</trkpt>"
        )
    path.write_text(HEAD + "".join(rows) + "</trkseg></trk></gpx>")
    return path


def read(path: Path) -> Recording:
    return read_recording(path, shown_as=path.name, limits=default_limits())


def test_distance_time_and_ascent_of_a_run_along_a_meridian(tmp_path: Path) -> None:
    run = read(write(tmp_path / "run.gpx", rise=0.02))
    assert run.start == START
    assert run.duration_s == 600
    assert run.whole_m == pytest.approx(1800, rel=0.001)
    assert run.ascent_m == pytest.approx(36, abs=4)  # smoothed over a minute, so a little less


def test_time_and_heart_rate_between_two_places(tmp_path: Path) -> None:
    run = read(write(tmp_path / "run.gpx"))
    time_s, beats = run.between(900, 1200)
    assert time_s == pytest.approx(100, abs=0.5)
    assert beats == pytest.approx(140 + 350 / 60, abs=1)
    assert read(write(tmp_path / "bare.gpx", beats=False)).between(0, 900)[1] is None


def test_no_place_is_kept(tmp_path: Path) -> None:
    run = read(write(tmp_path / "run.gpx"))
    names = {field.name for field in fields(run)}
    assert names == {"start", "time_s", "distance_m", "height_m", "heart_rate"}
    for name in names - {"start"}:
        assert not np.isclose(getattr(run, name), 45.0, atol=0.2).all()


def test_a_course_without_times_is_no_recording(tmp_path: Path) -> None:
    path = tmp_path / "course.gpx"
    path.write_text(HEAD + '<trkpt lat="45" lon="7"/><trkpt lat="45.1" lon="7"/></trkseg></trk></gpx>')
    with pytest.raises(InputProblems, match="must hold at least two points with a time"):
        read(path)


def test_a_file_that_is_no_gpx_is_named(tmp_path: Path) -> None:
    path = tmp_path / "run.gpx"
    path.write_text("hello")
    with pytest.raises(InputProblems, match=r"run\.gpx"):
        read(path)
