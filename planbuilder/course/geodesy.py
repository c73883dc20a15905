"""Distance on the WGS84 ellipsoid between points close together."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

_A_M: Final = 6378137.0  # WGS84 semi-major axis, exact
_E2: Final = (1 / 298.257223563) * (2 - 1 / 298.257223563)  # WGS84 first eccentricity squared
_MEAN_RADIUS_M: Final = 6371008.8  # IUGG


def earth_points_m(
    latitude_deg: NDArray[np.float64], longitude_deg: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Points on the ellipsoid, height left out, as earth-centred x, y, z in metres; shape (n, 3).

    Works across the antimeridian and over the poles alike. Source of the constants: NIMA TR8350.2 (WGS84).
    """
    lat, lon = np.radians(latitude_deg), np.radians(longitude_deg)
    across = _A_M / np.sqrt(1 - _E2 * np.sin(lat) ** 2)
    return np.column_stack(
        (
            across * np.cos(lat) * np.cos(lon),
            across * np.cos(lat) * np.sin(lon),
            across * (1 - _E2) * np.sin(lat),
        )
    )


def arc_m(chord_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Length along the ground of a straight chord: within 1e-8 of the geodesic up to 20 km."""
    return chord_m * (1 + chord_m**2 / (24 * _MEAN_RADIUS_M**2))


def legs_m(points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Ground distance from each point of ``earth_points_m`` to the next, metres; shape (n - 1,)."""
    return arc_m(np.sqrt(np.sum(np.diff(points, axis=0) ** 2, axis=1)))
