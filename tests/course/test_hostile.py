"""Hostile and broken files: refused or repaired, with a sentence that names the line and what to do."""

from __future__ import annotations

import contextlib
import gzip
import io
import re
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planbuilder.course import find_features, make_splits
from planbuilder.demands import find_demands
from planbuilder.settings.problems import InputProblems
from tests.course.hand_made import LIMITS, HandMade, gpx_of, read, sine

PLAIN = sine().gpx()
POINTS = sine().points()
DOCTYPE = '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "{}">]><gpx><trk><name>&a;</name></trk></gpx>'


def point(lat: object, lon: object, ele: object = 250) -> str:
    return f'<trkpt lat="{lat}" lon="{lon}"><ele>{ele}</ele></trkpt>'


def zipped(text: str) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("course.gpx", text)
    return packed.getvalue()


def spoiled(at: int, bad: str) -> str:
    return gpx_of([[*POINTS[:at], bad, *POINTS[at:]]])


REFUSED: dict[str, tuple[str | bytes, str]] = {
    "entity expansion": (DOCTYPE.format("aaaa"), r"course.gpx:1: must be GPX without a DOCTYPE"),
    "an external entity": (
        '<!DOCTYPE gpx [<!ENTITY a SYSTEM "file:///etc/hostname">]>\n<gpx>&a;</gpx>',
        r":1: must be GPX without a DOCTYPE",
    ),
    "an outside DTD": ('\n<!DOCTYPE gpx SYSTEM "urn:x">\n<gpx/>', r":2: must be GPX without a DOCTYPE"),
    "nesting 100,000 deep": ("<gpx>" + "\n<a>" * 100_000, r":65: must nest its elements at most 64 deep"),
    "a root with a name of 1 MB": ("<" + "g" * 1_000_000 + "/>", r"not another kind of XML"),
    "half a million points": (
        gpx_of([[point(12, 34)] * 500_000]),
        r":100002: must have at most 100,000 points",
    ),
    "millions of tags": ("<gpx>" + "<a/>" * 6_100_000 + "</gpx>", r"not a file with millions of elements"),
    "no numbers at all": (
        gpx_of([[point("NaN", "INF"), point("1e400", "0x1F"), point("1_0", 34)]]),
        r"lines 2, 3, 4",
    ),
    "no longitudes": (
        gpx_of([['<trkpt lat="12"/>'] * 9]),
        r":2: must hold at least two points .* and 6 more",
    ),
    "a file that breaks off": (
        PLAIN[: len(PLAIN) // 2],
        r":401: .*breaks off here\. Download or export it again",
    ),
    "a file cut within its first tag": (PLAIN[:60], r":2: must be a whole GPX file"),
    "a declaration alone": ('<?xml version="1.0"?>', r"breaks off here"),
    "a control character": (PLAIN.replace("<trk>", "<trk><name>\x01</name>"), r":2: .*invalid token"),
    "an attribute twice": (PLAIN.replace("lon=", 'lat="1" lon=', 1), r":2: .*duplicate attribute"),
    "rubbish behind the end": (PLAIN + "rubbish", r"junk after document element"),
    "an encoding nobody knows": (PLAIN.replace("UTF-8", "klingon"), r":1: must be GPX in a known encoding"),
    "gzip": (gzip.compress(PLAIN.encode()), r"not a gzip archive\. Unpack it first"),
    "zip": (zipped(PLAIN), r"not a zip archive\. Unpack it first"),
    "a web page": (
        "<!DOCTYPE html><html><body>404</body></html>",
        r"not a web page\. Download the file itself",
    ),
    "a web page without a doctype": ("<html><body/></html>", r"not a web page"),
    "KML": ('<kml xmlns="http://www.opengis.net/kml/2.2"><Document/></kml>', r"not a KML file\. Export"),
    "TCX": ("<TrainingCenterDatabase/>", r"not a TCX file"),
    "FIT": (b"\x0e\x10\xd9\x07\x00\x00\x00\x00.FIT\x00\x00", r"not a FIT file"),
    "GeoJSON": ('{"type": "FeatureCollection"}', r"must be a GPX file, not other text"),
    "nothing": ("", r"not an empty file"),
    "blanks": ("  \n\t ", r"not an empty file"),
    "zero bytes": (b"\x00" * 200, r"must be a GPX file"),
    "way points alone": ('<gpx><wpt lat="1" lon="2"/></gpx>', r"not way points alone"),
    "an empty track": ("<gpx><trk><trkseg/></trk></gpx>", r"not an empty GPX file"),
    "one point": (gpx_of([[point(12, 34)]]), r"at least two points"),
    "single points far apart": (
        gpx_of([[point(0, 0)], [point(0, 1)]], tracks=True),
        r"must hold a line on the ground, not single points far apart",
    ),
    "one place": (gpx_of([[point(12, 34)] * 99]), r"at least 200 m, not 0 m"),
    "the pole from all sides": (
        HandMade(np.full(99, 90.0), np.linspace(-180, 180, 99), np.full(99, 5.0)).gpx(),
        r"at least 200 m, not 0 m",
    ),
    "a jump without return": (
        gpx_of([[*POINTS[:400], *HandMade(sine().lat + 5, sine().lon, sine().ele).points()[400:]]]),
        r":402: must be one line on the ground, not one that jumps 553 km",
    ),
    "a journey": (gpx_of([[point(0, 0), point(50, 50)]]), r"at most 500 km, not 7230 km"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_is_no_course_is_refused_in_one_sentence(name: str, tmp_path: Path) -> None:
    content, sentence = REFUSED[name]
    with pytest.raises(InputProblems, match=sentence) as caught:
        read(content, tmp_path)
    assert str(caught.value).count("\n") == 0
    assert len(str(caught.value)) < 300


REPAIRED: dict[str, tuple[str, str]] = {
    "latitude 91": (
        spoiled(99, point(91, 34)),
        r"Left out: 1 point without a usable place \(line 101\)",
    ),
    "no longitude": (spoiled(99, '<trkpt lat="12"/>'), r"without a usable place \(line 101\)"),
    "latitude NaN": (spoiled(99, point("NaN", 34)), r"\(line 101\)"),
    "longitude INF": (spoiled(99, point(12, "-INF")), r"\(line 101\)"),
    "latitude 1e400": (spoiled(99, point("1e400", 34)), r"\(line 101\)"),
    "latitude 0x0C": (spoiled(99, point("0x0C", 34)), r"\(line 101\)"),
    "latitude 1_2": (spoiled(99, point("1_2", 34)), r"\(line 101\)"),
    "digits of another script": (spoiled(99, point("１２", 34)), r"\(line 101\)"),
    "a height of 1 MB": (spoiled(99, point(12, 34, "1" * 1_000_000)), r"1 height not written as a number"),
    "a name of 1 MB": (PLAIN.replace("<trk>", f"<trk><name>{'n' * 1_000_000}</name>"), r"looks like a route"),
    "an attribute of 1 MB": (PLAIN.replace("<trk>", f'<trk n="{"n" * 1_000_000}">'), r"looks like a route"),
    "a teleport": (spoiled(99, point(0, 0)), r"Left out: 1 point far off the line \(line 101\)"),
    "a program in it": (PLAIN.replace("<trk>", "<?php system('rm') ?><trk>"), r"looks like a route"),
}


@pytest.mark.parametrize("name", REPAIRED)
def test_a_file_that_can_be_mended_is_mended_and_says_so(name: str, tmp_path: Path) -> None:
    content, sentence = REPAIRED[name]
    course = read(content, tmp_path)
    assert course.measured_m == pytest.approx(8000, abs=0.5)
    assert course.ascent_m == pytest.approx(80, abs=1)
    assert any(re.search(sentence, note.text) for note in course.notes)


def test_swapped_latitude_and_longitude_show_in_the_certified_length(tmp_path: Path) -> None:
    course = HandMade(sine().lat + 40, sine().lon, sine().ele)
    text = course.gpx().replace("lat=", "?=").replace("lon=", "lat=").replace("?=", "lon=")
    mended = read(text, tmp_path, distance_m=course.length_m)
    assert mended.measured_m == pytest.approx(course.length_m, rel=1e-6)
    assert any("swapped" in note.text for note in mended.notes)


def test_a_file_larger_than_any_course_is_not_even_read(tmp_path: Path) -> None:
    path = tmp_path / "course.gpx"
    with path.open("wb") as file:
        file.truncate(70_000_000)
    from planbuilder.course import read_course_file

    with pytest.raises(InputProblems, match="smaller than 64 MB, not 70 MB"):
        read_course_file(path, shown_as="course.gpx", limits=LIMITS)


@pytest.mark.parametrize("name", [*REFUSED, *REPAIRED])
def test_no_message_tells_where_on_earth_the_course_lies(name: str, tmp_path: Path) -> None:
    content = {**REFUSED, **REPAIRED}[name][0]
    try:
        said = " ".join(note.text for note in read(content, tmp_path).notes)
    except InputProblems as problems:
        said = str(problems)
    assert not re.search(r"\b(12|34)\.\d{3,}", said)


@pytest.mark.parametrize(
    "name", [name for name in {**REFUSED, **REPAIRED} if not name.startswith(("half", "mill"))]
)
def test_a_hostile_file_costs_no_time(name: str, tmp_path: Path) -> None:
    """50 ms after the guard is the promise; this checks guard and all, with room for a busy machine."""
    content = {**REFUSED, **REPAIRED}[name][0]
    begun = time.process_time()
    with contextlib.suppress(InputProblems):
        read(content, tmp_path)
    assert time.process_time() - begun < 0.5


# What fuzzing found, and more of it ----------------------------------------------------------------------

FUZZ = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])


def everything(content: str | bytes, folder: Path, name: str = "course.gpx") -> None:
    """Read, judge and split: a course or a sentence, nothing else."""
    try:
        course = read(content, folder, name)
    except InputProblems:
        return
    assert np.isfinite(course.height_m).all()
    assert np.isfinite(course.grade).all()
    features = find_features(course, LIMITS)
    find_demands(course, features, LIMITS)
    make_splits(course, "mi", LIMITS)


@FUZZ
@given(
    edits=st.lists(st.tuples(st.integers(0, len(PLAIN) - 1), st.binary(max_size=4)), min_size=1, max_size=8)
)
def test_a_file_with_bytes_changed_is_read_or_refused(edits: list[tuple[int, bytes]], tmp_path: Path) -> None:
    data = bytearray(PLAIN.encode())
    for at, new in edits:
        data[at : at + len(new)] = new
    everything(bytes(data), tmp_path)


NUMBERS = st.one_of(
    st.floats(-200, 200).map(str),
    st.sampled_from(
        ["", "NaN", "INF", "-INF", "1e400", "1e-400", "0x10", "1_0", "12,5", "91", "-181", "+5", "1.", ".5"]
    ),
    st.text(max_size=5).map(lambda text: re.sub(r'[<>&"]|[^\x20-\ud7ff]', "", text)),
)


@FUZZ
@given(
    points=st.lists(st.tuples(NUMBERS, NUMBERS, NUMBERS), max_size=12),
    cut=st.integers(0, 12),
    tag=st.sampled_from(["trkpt", "rtept", "wpt"]),
)
def test_points_of_any_kind_are_read_or_refused(
    points: list[tuple[str, str, str]], cut: int, tag: str, tmp_path: Path
) -> None:
    made = [f'<{tag} lat="{lat}" lon="{lon}"><ele>{ele}</ele></{tag}>' for lat, lon, ele in points]
    if tag == "rtept":
        everything(f"<gpx><rte>{''.join(made)}</rte></gpx>", tmp_path)
    everything(gpx_of([made[:cut], made[cut:]], tracks=cut % 2 == 0), tmp_path)


@FUZZ
@given(
    heights=st.lists(
        st.one_of(st.floats(-600, 9500), st.just(0.0), st.just(float("nan")), st.just(250.0)),
        min_size=30,
        max_size=90,
    )
)
def test_heights_of_any_kind_give_a_whole_profile(heights: list[float], tmp_path: Path) -> None:
    base = sine()
    n = len(heights)
    everything(HandMade(base.lat[:n], base.lon[:n], np.array(heights)).gpx(), tmp_path)


@FUZZ
@given(
    text=st.text(alphabet=st.sampled_from("0123456789.,;:-\n\t \"'kmdistancelv"), max_size=200),
    raw=st.binary(max_size=60),
)
def test_tables_of_any_kind_are_read_or_refused(text: str, raw: bytes, tmp_path: Path) -> None:
    everything("distance,elevation\n" + text, tmp_path, "course.csv")
    everything(raw, tmp_path, "course.csv")
