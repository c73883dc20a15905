"""One course with a known answer, in every disguise that real files wear."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from planbuilder.course import find_features
from tests.course.hand_made import LIMITS, NS, HandMade, gpx_of, read, sine

Disguise = Callable[[HandMade], str | bytes]
DISGUISES: dict[str, Disguise] = {}


def disguise(function: Disguise) -> Disguise:
    DISGUISES[function.__name__] = function
    return function


@disguise
def plain(course: HandMade) -> str:
    return course.gpx()


@disguise
def whole_metres(course: HandMade) -> str:
    return gpx_of([course.points(ele="{:.0f}".format)])


@disguise
def gpx_1_0(course: HandMade) -> str:
    return gpx_of([course.points()], version="1.0", namespace=' xmlns="http://www.topografix.com/GPX/1/0"')


@disguise
def prefixed(course: HandMade) -> str:
    text = gpx_of([course.points()], namespace=' xmlns:g="http://www.topografix.com/GPX/1/1"')
    for tag in ("gpx", "trkseg", "trkpt", "trk>", "ele"):
        text = text.replace(f"<{tag}", f"<g:{tag}").replace(f"</{tag}", f"</g:{tag}")
    return text


@disguise
def no_namespace(course: HandMade) -> str:
    return gpx_of([course.points()], namespace="")


@disguise
def no_version(course: HandMade) -> str:
    return course.gpx().replace(' version="1.1"', "")


@disguise
def utf_16(course: HandMade) -> bytes:
    return course.gpx().replace("UTF-8", "UTF-16").encode("utf-16")


@disguise
def utf_16_without_mark(course: HandMade) -> bytes:
    return course.gpx().replace("UTF-8", "UTF-16").encode("utf-16-le")


@disguise
def byte_order_mark(course: HandMade) -> bytes:
    return b"\xef\xbb\xbf" + course.gpx().encode()


@disguise
def latin_1_declared(course: HandMade) -> bytes:
    text = course.gpx().replace("UTF-8", "ISO-8859-1").replace("<trk>", "<trk><name>Grüner Hügel</name>")
    return text.encode("latin-1")


@disguise
def latin_1_undeclared(course: HandMade) -> bytes:
    return course.gpx().replace("<trk>", "<trk><name>Grüner Hügel</name>").encode("latin-1")


@disguise
def blank_lines_first(course: HandMade) -> str:
    return "\n\n  \n" + course.gpx()


@disguise
def comments_and_cdata(course: HandMade) -> str:
    return gpx_of([course.points(ele=lambda z: f"<!-- surveyed --><![CDATA[{z:.6f}]]>")])


@disguise
def attributes_the_other_way(course: HandMade) -> str:
    return gpx_of(
        [
            [
                f'<trkpt lon="{lon:.10f}"\n lat="{lat:.10f}"><time>2027-01-01T00:00:00Z</time>'
                f"<ele> {z:.6f} </ele></trkpt>"
                for lat, lon, z in zip(course.lat, course.lon, course.ele, strict=True)
            ]
        ]
    )


@disguise
def a_route(course: HandMade) -> str:
    return f'<gpx version="1.1" creator="tests"{NS}><rte>{"".join(course.points("rtept"))}</rte></gpx>'


@disguise
def every_point_twice(course: HandMade) -> str:
    return gpx_of([[point for point in course.points() for _ in range(2)]])


@disguise
def several_segments(course: HandMade) -> str:
    points = course.points()
    return gpx_of([points[:200], points[200:201], points[201:600], points[600:]])


@disguise
def several_segments_that_repeat_the_joint(course: HandMade) -> str:
    points = course.points()
    return gpx_of([points[:201], points[200:601], points[600:]])


@disguise
def several_tracks(course: HandMade) -> str:
    points = course.points()
    return gpx_of([points[:300], points[300:]], tracks=True)


@disguise
def extensions_and_way_points(course: HandMade) -> str:
    points = [
        point.replace(
            "</trkpt>", '<extensions><x:hr xmlns:x="urn:x">140</x:hr><ele>1</ele></extensions></trkpt>'
        )
        for point in course.points()
    ]
    return gpx_of([points]).replace("<trk>", '<wpt lat="1" lon="2"><ele>9</ele></wpt><trk>')


def changed(course: HandMade, change: Callable[[np.ndarray], None]) -> str:
    ele = course.ele.copy()
    change(ele)
    return course.with_ele(ele).gpx()


@disguise
def spikes(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[[77, 300, 301, 555, 700]] += [60, -45, -45, 200, -30]

    return changed(course, change)


@disguise
def zero_drop_outs(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[40:60] = 0
        ele[400] = 0
        ele[650:655] = 0

    return changed(course, change)


@disguise
def a_bridge(course: HandMade) -> str:
    """The road runs level-headed over a valley; the map saw the valley."""

    def change(ele: np.ndarray) -> None:
        ele[500:525] -= 30

    return changed(course, change)


@disguise
def a_tunnel(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[150:190] += 55

    return changed(course, change)


@disguise
def sentinel_heights(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[100:110] = -9999
        ele[320] = -32768
        ele[500:503] = 65535
        ele[600] = 1e6

    return changed(course, change)


@disguise
def heights_that_are_no_numbers(course: HandMade) -> str:
    points = course.points()
    for at, text in (
        (90, "NaN"),
        (91, "INF"),
        (300, "1e400"),
        (301, "0x1F"),
        (302, "1_0"),
        (500, "n/a"),
        (501, ""),
    ):
        start = points[at].index("<ele>")
        points[at] = points[at][:start] + f"<ele>{text}</ele></trkpt>"
    return gpx_of([points])


@disguise
def decimal_commas(course: HandMade) -> str:
    return gpx_of([[point.replace(".", ",") for point in course.points()]])


@disguise
def missing_first_heights(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[:12] = np.nan

    return changed(course, change)


@disguise
def missing_last_heights(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[-12:] = np.nan

    return changed(course, change)


@disguise
def zero_first_and_last_heights(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[:8] = 0
        ele[-8:] = 0

    return changed(course, change)


@disguise
def a_barometer_that_settles(course: HandMade) -> str:
    def change(ele: np.ndarray) -> None:
        ele[0] -= 92

    return changed(course, change)


@disguise
def a_point_far_away(course: HandMade) -> str:
    points = course.points()
    points[250] = '<trkpt lat="0" lon="0"><ele>250</ele></trkpt>'
    points[251] = '<trkpt lat="0" lon="0"></trkpt>'
    return gpx_of([points])


@disguise
def the_first_point_far_away(course: HandMade) -> str:
    return gpx_of([['<trkpt lat="0" lon="0"><ele>250</ele></trkpt>', *course.points()]])


@disguise
def bad_places(course: HandMade) -> str:
    points = course.points()
    for at, bad in (
        (10, 'lat="91" lon="34"'),
        (11, 'lat="12"'),
        (12, 'lat="NaN" lon="34"'),
        (13, 'lat="" lon="x"'),
    ):
        points.insert(at * 7, f"<trkpt {bad}><ele>250</ele></trkpt>")
    return gpx_of([points])


@disguise
def times_that_run_backwards(course: HandMade) -> str:
    points = [
        point.replace(
            "</trkpt>", f"<time>2027-01-01T{23 - at // 60 % 24:02d}:{at % 60:02d}:00Z</time></trkpt>"
        )
        for at, point in enumerate(course.points())
    ]
    return gpx_of([points])


@disguise
def latitude_and_longitude_swapped_beyond_the_pole(course: HandMade) -> str:
    moved = HandMade(course.lat, course.lon + 90, course.ele)
    return gpx_of(
        [[p.replace("lat=", "?=").replace("lon=", "lat=").replace("?=", "lon=") for p in moved.points()]]
    )


@disguise
def across_the_antimeridian(course: HandMade) -> str:
    lon = course.lon - course.lon[400] + 180
    return HandMade(course.lat, np.where(lon > 180, lon - 360, lon), course.ele).gpx()


@pytest.mark.parametrize("name", DISGUISES)
def test_the_same_course_in_every_disguise_gives_the_same_answer(name: str, tmp_path: Path) -> None:
    course = read(DISGUISES[name](sine()), tmp_path)
    assert course.measured_m == pytest.approx(8000.0, abs=0.5)
    assert course.ascent_m == pytest.approx(80, abs=1)
    assert course.descent_m == pytest.approx(80, abs=1)
    climbs = [feature for feature in find_features(course, LIMITS) if feature.kind == "climb"]
    # the wave is steeper than 1.5 % within 683 m of its steepest point, where it has gained 17.6 m of its 20
    assert [climb.gain_m for climb in climbs] == pytest.approx([17.6, 35.1, 17.6], abs=1)
    assert [climb.start_m for climb in climbs] == pytest.approx([0, 3317, 7317], abs=60)
    assert [climb.end_m for climb in climbs] == pytest.approx([683, 4683, 8000], abs=60)
    assert course.known


@pytest.mark.parametrize("spacing_m", [1.0, 2.5, 5.0, 20.0, 40.0, 80.0])
def test_the_answer_does_not_hang_on_the_spacing(spacing_m: float, tmp_path: Path) -> None:
    course = read(sine(spacing_m), tmp_path)
    assert course.measured_m == pytest.approx(8000.0, abs=0.5)
    assert course.ascent_m == pytest.approx(80, abs=1)
    assert course.descent_m == pytest.approx(80, abs=1)


def test_no_answer_hangs_on_the_certified_length_but_through_the_scale(tmp_path: Path) -> None:
    course = read(sine(), tmp_path, distance_m=7900.0)
    assert (course.distance_m, course.certified) == (7900.0, True)
    assert course.measured_m == pytest.approx(8000.0, abs=0.5)
    assert course.scale == pytest.approx(7900 / 8000, abs=1e-4)
    assert course.ascent_m == pytest.approx(80, abs=1)
