"""Heat and humidity: one figure for the air, and what it takes from a runner."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from planbuilder.physiology.ranges import require_within

HOTTEST_MEASURED_C: Final = 25.1  # wet-bulb globe temperature, end of the warmest quarter of Ely et al. 2007

# Middles of the quarters 5.1-10, 10.1-15, 15.1-20, 20.1-25 °C, and how far behind the course record the first
# three men finished there (the standard deviations are 1.5 to 2.3 points).
_QUARTERS_C: Final = (7.55, 12.55, 17.55, 22.55)
_BEHIND_RECORD: Final = (0.017, 0.025, 0.033, 0.045)


def wet_bulb_globe_c(temperature_c: float, humidity: float) -> float:
    """Wet-bulb globe temperature outdoors, °C, from the shade temperature and the relative humidity (0 to 1).

    ``0.567 Ta + 0.393 e + 3.94`` with the vapour pressure ``e = rh 6.105 exp(17.27 Ta / (237.7 + Ta))`` hPa.
    Australian Bureau of Meteorology (second-hand); it assumes light wind and a fairly high sun and reads too
    high under cloud, at night and in wind. ValueError outside -10 to 50 °C or 0 to 1.

    >>> round(wet_bulb_globe_c(20.0, 0.50), 3)
    19.863
    """
    require_within(temperature_c, -10.0, 50.0, quantity="air temperature", unit="°C")
    require_within(humidity, 0.0, 1.0, quantity="relative humidity", unit="as a share")
    vapour_hpa = humidity * 6.105 * math.exp(17.27 * temperature_c / (237.7 + temperature_c))
    return 0.567 * temperature_c + 0.393 * vapour_hpa + 3.94


def heat_slow_down(wet_bulb_globe_c: float) -> float:
    """Share of the cool-weather time that a marathon at this wet-bulb globe temperature adds: 0.02 is 2 %.

    Ely MR et al. Med Sci Sports Exerc 39:487-493, 2007: how far the first three men were behind the course
    record, taken as the difference from the coolest quarter of the years and interpolated between the middles
    of the quarters. Slower runners lost more, by how much is not in the abstract. Nothing below 7.55 °C; the
    last slope runs on to 25.1 °C, the end of what was measured; ValueError above.

    >>> round(heat_slow_down(22.55), 4), heat_slow_down(5.0)
    (0.0275, 0.0)
    """
    require_within(
        wet_bulb_globe_c, -20.0, HOTTEST_MEASURED_C, quantity="wet-bulb globe temperature", unit="°C"
    )
    slower = [(1 + behind) / (1 + _BEHIND_RECORD[0]) - 1 for behind in _BEHIND_RECORD]
    beyond = wet_bulb_globe_c - _QUARTERS_C[-1]
    if beyond > 0:
        slope = (slower[-1] - slower[-2]) / (_QUARTERS_C[-1] - _QUARTERS_C[-2])
        return slower[-1] + slope * beyond
    return float(np.interp(wet_bulb_globe_c, _QUARTERS_C, slower))
