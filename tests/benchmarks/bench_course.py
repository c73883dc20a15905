"""How fast and how lean the course reader is, as ratios against the bare GPX parser in the same run."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import gpxpy
import numpy as np
import pytest

from planbuilder.course.build import Ground, build_course
from planbuilder.course.gpx import read_gpx
from planbuilder.course.heights import whole_heights
from planbuilder.course.read import read_course_file
from planbuilder.course.trace import trace_of
from planbuilder.settings.limits import default_limits
from tests.course.hand_made import gpx_of, winding

LIMITS = default_limits()
POINTS = 55_000
ROUNDS = 5

pytestmark = pytest.mark.benchmark


@pytest.fixture(scope="module", params=["with times", "heights alone"])
def recording(request: pytest.FixtureRequest) -> bytes:
    """A recording of 55,000 points; without times the bare parser has least to do beside ours."""
    at = np.arange(POINTS, dtype=np.float64) * 3.0
    noise = np.random.default_rng(1).normal(0, 0.4, POINTS)
    heights = np.asarray(200 + 60 * np.sin(at / 3000) + noise, dtype=np.float64)
    points = winding(at, heights).points(ele="{:.1f}".format)
    if request.param == "with times":
        points = [
            point.replace(
                "</trkpt>",
                f"<time>2027-01-01T{n // 3600 % 24:02d}:{n // 60 % 60:02d}:{n % 60:02d}Z</time></trkpt>",
            )
            for n, point in enumerate(points)
        ]
    return gpx_of([points]).encode()


def median_s(*works: Callable[[], object]) -> list[float]:
    """Median CPU seconds of each piece of work, run in turn after one round to warm up."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(ROUNDS + 1):
        for times, work in zip(taken, works, strict=True):
            begun = time.process_time()
            work()
            times.append(time.process_time() - begun)
    return [statistics.median(times[1:]) for times in taken]


def peak_bytes(work: Callable[[], object]) -> int:
    """Most memory that Python held at once during the work."""
    tracemalloc.start()
    work()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return peak


def test_reading_and_the_profile_against_the_bare_parser(
    recording: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "course.gpx"
    path.write_bytes(recording)
    text = recording.decode()
    trace = trace_of(read_gpx(recording, "course.gpx", LIMITS), "course.gpx", LIMITS, certified_m=None)

    def profile() -> None:
        heights = whole_heights(trace.distance_m, trace.height_m, LIMITS)
        assert heights.height_m is not None
        ground = Ground("course", trace.distance_m, heights.height_m, "recorded", True, trace.leg_m)
        build_course(ground, "course.gpx", LIMITS, certified_m=None, force=False)

    bare, reading, profiling, whole = median_s(
        lambda: gpxpy.parse(text),
        lambda: trace_of(
            read_gpx(path.read_bytes(), "course.gpx", LIMITS), "course.gpx", LIMITS, certified_m=None
        ),
        profile,
        lambda: read_course_file(path, shown_as="course.gpx", limits=LIMITS),
    )
    bare_bytes = peak_bytes(lambda: gpxpy.parse(path.read_text()))
    our_bytes = peak_bytes(lambda: read_course_file(path, shown_as="course.gpx", limits=LIMITS))
    with capsys.disabled():
        print(f"\n{POINTS} points, gpxpy.parse alone: {bare * 1000:.0f} ms, {bare_bytes / 1e6:.0f} MB")
        print(f"guard, parse and checks: {reading / bare:.2f} times it (at most 1.35)")
        print(f"profile after parsing:   {profiling / bare:.2f} times it (at most 0.15)")
        print(f"all of it:               {whole / bare:.2f} times it")
        print(f"memory:                  {our_bytes / bare_bytes:.2f} times it (at most 2)")
    assert reading / bare <= 1.35
    assert profiling / bare <= 0.15
    assert our_bytes / bare_bytes <= 2


def peak_process_mb(script: str, path: Path) -> float:
    """Resident megabytes at the peak of a process that runs the script on the file, as Linux counts them."""
    report = (
        "\nlines = Path('/proc/self/status').read_text().splitlines()"
        "\nprint(next(line.split()[1] for line in lines if line.startswith('VmHWM')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script + report, str(path)], check=True, capture_output=True, text=True
    )
    return float(done.stdout.split()[-1]) / 1024


@pytest.mark.skipif(sys.platform != "linux", reason="reads /proc")
def test_the_whole_process_holds_little_more_than_the_bare_parser(
    recording: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "course.gpx"
    path.write_bytes(recording)
    imports = (
        "import sys, gpxpy; from pathlib import Path; from planbuilder.course import read_course_file\n"
        "from planbuilder.settings.limits import default_limits\nlimits = default_limits()\n"
    )
    idle = peak_process_mb(imports, path)
    bare = peak_process_mb(imports + "gpx = gpxpy.parse(Path(sys.argv[1]).read_text())", path)
    ours = peak_process_mb(
        imports + "course = read_course_file(Path(sys.argv[1]), shown_as='course.gpx', limits=limits)", path
    )
    with capsys.disabled():
        print(
            f"\nresident: idle {idle:.0f} MB, with gpxpy.parse {bare:.0f} MB, with our reader {ours:.0f} MB"
        )
    assert (ours - idle) / (bare - idle) <= 2
