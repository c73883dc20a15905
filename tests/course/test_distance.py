"""Distance against an outside reference: PROJ's geodesic (Karney 2013, J Geodesy 87:43)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.course.geodesy import earth_points_m, legs_m
from tests.course.hand_made import GEOD, HandMade, read, winding


@pytest.mark.parametrize("lat", [-89.95, -77.0, -34.0, -21.0, 0.0, 12.0, 36.0, 51.0, 63.0, 78.0, 89.95])
@pytest.mark.parametrize("spacing_m", [1.5, 15.0, 225.0])
def test_measured_distance_is_the_geodesic_to_a_millionth(
    lat: float, spacing_m: float, tmp_path: Path
) -> None:
    at = np.arange(0, 10_000, spacing_m)
    course = winding(at, 100 + at / 50, lat=lat, lon=151.2)
    assert read(course, tmp_path).measured_m == pytest.approx(course.length_m, rel=1e-6)


def test_a_line_over_the_pole_is_as_long_as_anywhere(tmp_path: Path) -> None:
    course = HandMade(
        np.concatenate((np.linspace(89.98, 90, 100), np.linspace(90, 89.98, 100)[1:])),
        np.concatenate((np.full(100, 20.0), np.full(99, -160.0))),
        np.full(199, 5.0) + np.arange(199) / 50,
    )
    assert read(course, tmp_path).measured_m == pytest.approx(course.length_m, rel=1e-6)


def test_a_line_over_the_antimeridian_is_as_long_as_anywhere(tmp_path: Path) -> None:
    at = np.arange(0, 6000, 10.0)
    course = winding(at, 20 + at / 100, lat=-17.0, lon=179.98)
    assert course.lon.min() < 0 < course.lon.max()
    assert read(course, tmp_path).measured_m == pytest.approx(course.length_m, rel=1e-6)


def test_heights_never_lengthen_a_course(tmp_path: Path) -> None:
    at = np.arange(0, 5001, 10.0)
    level = read(winding(at, np.full(501, 40.0) + at * 1e-3), tmp_path)
    steep = read(winding(at, 40 + at * 0.2), tmp_path)
    assert steep.measured_m == pytest.approx(level.measured_m, rel=1e-9)


@given(
    lat=st.floats(-89.9, 89.9),
    lon=st.floats(-180, 180),
    azimuth=st.floats(0, 360),
    length=st.floats(0.5, 2000),
)
def test_any_leg_anywhere_is_the_geodesic_to_a_millionth(
    lat: float, lon: float, azimuth: float, length: float
) -> None:
    end_lon, end_lat, _ = GEOD.fwd(lon, lat, azimuth, length)
    ours = legs_m(earth_points_m(np.array([lat, end_lat]), np.array([lon, end_lon])))[0]
    assert ours == pytest.approx(length, rel=1e-6, abs=1e-6)
