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


def stamped(
    path: Path, times: list[str], *, head: str = HEAD, ele: str = "100", encoding: str = "utf-8"
) -> Path:
    """A point every 3 m with these times."""
    rows = [
        f'<trkpt lat="{45 + at * 3 / 111_131.8:.7f}" lon="7.0"><ele>{ele}</ele><time>{time}</time></trkpt>\n'
        for at, time in enumerate(times)
    ]
    path.write_bytes((head + "\n" + "".join(rows) + "</trkseg></trk></gpx>").encode(encoding))
    return path


SECONDS = [f"2027-05-23T08:30:{at:02d}Z" for at in range(60)]


@pytest.mark.parametrize(("at", "line"), [(30, 32), (0, 2), (59, 61)])
@pytest.mark.parametrize("wrong", ["2046-10-21T08:31:00Z", "2007-10-08T08:31:00Z", "0001-01-01T00:00:00Z"])
def test_a_point_of_another_day_is_named_with_its_line(
    tmp_path: Path, at: int, line: int, wrong: str
) -> None:
    """Watches whose clock is off by 1,024 weeks, or starts at nought, are what people have."""
    path = stamped(tmp_path / "run.gpx", [*SECONDS[:at], wrong, *SECONDS[at + 1 :]])
    with pytest.raises(InputProblems) as caught:
        read(path)
    (problem,) = caught.value.problems
    assert problem.line == line
    assert "must be of one run, about 2027-05-23, not with 1 point of another day" in str(problem)


def test_a_whole_run_in_a_year_that_never_was_is_named(tmp_path: Path) -> None:
    path = stamped(tmp_path / "run.gpx", [time.replace("2027", "0001") for time in SECONDS])
    with pytest.raises(InputProblems, match=r"run.gpx:32: a recording must be of the years 1900 to 2200"):
        read(path)


def test_times_with_and_without_a_zone_are_one_run(tmp_path: Path) -> None:
    mixed = [time.removesuffix("Z") if at % 2 else time for at, time in enumerate(SECONDS)]
    assert read(stamped(tmp_path / "run.gpx", mixed)).duration_s == 59


@pytest.mark.parametrize("encoding", ["iso-8859-1", "utf-16"])
def test_a_recording_may_have_any_encoding_that_a_course_may_have(tmp_path: Path, encoding: str) -> None:
    head = HEAD.replace('"1.0"', f'"1.0" encoding="{encoding}"').replace("<trk>", "<trk><name>Größ</name>")
    assert read(stamped(tmp_path / "run.gpx", SECONDS, head=head, encoding=encoding)).duration_s == 59


@pytest.mark.parametrize("ele", ["nan", "inf", "1e308", "1e9", "-9999", ""])
def test_a_height_that_is_none_counts_as_missing(tmp_path: Path, ele: str) -> None:
    run = read(stamped(tmp_path / "run.gpx", SECONDS, ele=ele))
    assert np.isnan(run.height_m).all()
    assert run.ascent_m == 0


@pytest.mark.parametrize("place", ["nan", "1e308", "inf", "95"])
def test_a_place_that_is_none_is_left_out(tmp_path: Path, place: str) -> None:
    path = stamped(tmp_path / "run.gpx", SECONDS)
    path.write_text(path.read_text().replace(f"{45 + 30 * 3 / 111_131.8:.7f}", place))
    run = read(path)
    assert len(run.time_s) == 59
    assert run.whole_m == pytest.approx(59 * 3, rel=0.001)


def test_a_device_is_no_recording() -> None:
    with pytest.raises(InputProblems, match="must be a file that can be read, not a folder or a device"):
        read(Path("/dev/zero"))
