"""How speed answers to grade: published models that can be exchanged for one another.

A *pace factor* is the time per metre on a grade over the time per metre on level ground at equal effort: 1.05
is 5 % slower than on the flat. Grades are rise over run as fractions, positive uphill. The models:

"treadmill grade"  Davies CTM. J Appl Physiol 48:702-709, 1980 (grades of -10 to +5 %): every 1 % up costs
                   3.3 %, every 1 % down gives back 1.8 % (figures second-hand), up to the 13.8 % more speed
                   that experienced runners reached downhill (Townshend et al. Med Sci Sports Exerc
                   42:160-169, 2010, abstract): so from -6.7 % on a descent gives no more. The braking beyond
                   -8 % is common practice, no source.
"race records"     Kay A. J Quant Anal Sports 8(4), 2012: a quartic through the records of hill races
                   (coefficients second-hand).
"energy cost"      Minetti AE et al. J Appl Physiol 93:1039-1046, 2002: ratio of the energy cost to that on
                   the level (coefficients second-hand, the abstract's anchors agree). The authors themselves
                   say that it promises descents far quicker than runners manage.
"oxygen equation"  American College of Sports Medicine, running equation: oxygen = 0.2 v + 0.9 v G + 3.5.
                   Published for uphill treadmill running alone; on descents it has nothing to say, and here
                   they count as level.

The default is "treadmill grade": on the roads the ratio of energy costs over-credits descents and
over-charges gentle climbs, while speeds in real fields stay near Davies' response. How little of a descent is
used early in a race is a matter of how to race, not of physiology, and stands with the race rules.

Coaches often let the credit of a descent end at -5 % (common practice, no source). That makes a flat 40:00
over 10 km a 38:12 where half of it falls 8 %, slower than anything published: 37:07 in the records of hill
races (Kay), 37:07 by Davies' slope within the grades he tested, 37:34 at the speed of Townshend's runners. So
the credit ends where measured runners stopped gaining. That is what the ground gives back; how much of it a
race plan may use, and how fast it may ever go downhill, are separate rules with their own numbers
(``race.descent_credit_early``, ``race.descent_speed_gain``, ``race.first_mile_gain``).

Checks: ``oxygen_uptake_ml_per_kg_min`` (the worked examples behind "oxygen equation") and
``downhill_oxygen_uptake_ml_per_kg_min`` (no model may make more speed of a descent than it saves oxygen).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final, Literal, overload

import numpy as np
from numpy.typing import NDArray

from planbuilder.physiology.ranges import require_within

GradeModel = Literal["treadmill grade", "race records", "energy cost", "oxygen equation"]
GRADE_MODELS: Final[tuple[GradeModel, ...]] = (
    "treadmill grade",
    "race records",
    "energy cost",
    "oxygen equation",
)
DEFAULT_MODEL: Final[GradeModel] = "treadmill grade"
STEEPEST_GRADE: Final = 0.45  # Minetti et al. 2002 measured from -0.45 to +0.45

_RUNNING_COST: Final = (155.4, -30.4, -43.3, 46.3, 19.5, 3.6)  # Minetti et al. 2002, under fig. 1; J/(kg m)
_RECORD_PACE: Final = (-4.3635, -0.3211, 3.2209, 0.5656, 0.1707)  # Kay 2012; s/m

UP_COST: Final = 3.3  # share of the level pace per unit of grade (3.3 % per 1 %); Davies 1980, second-hand
DOWN_CREDIT: Final = 1.8  # likewise, downhill; Davies 1980, second-hand
QUICKEST_DESCENT: Final = 1 / 1.138  # 13.8 % above level speed; Townshend et al. 2010, abstract
BRAKING_BEGINS: Final = -0.08  # common practice, no source
BRAKING_COST: Final = 2.0  # share per unit of grade; common practice, no source

OXYGEN_FLAT: Final = 0.2  # ml/kg/min per m/min; ACSM running equation
OXYGEN_LIFT: Final = 0.9  # the same per unit of grade
OXYGEN_REST: Final = 3.5  # ml/kg/min
_OXYGEN_SLOWEST_M_PER_MIN: Final = 80.0  # below 134 m/min only where it is truly a run


@overload
def energy_cost_j_per_kg_m(grade: float) -> float: ...
@overload
def energy_cost_j_per_kg_m(grade: NDArray[np.float64]) -> NDArray[np.float64]: ...
def energy_cost_j_per_kg_m(grade: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
    """Net energy cost of running, J per kg and metre along the slope.

    ``155.4 i^5 - 30.4 i^4 - 43.3 i^3 + 46.3 i^2 + 19.5 i + 3.6`` with grade ``i`` from -0.45 to 0.45, else
    ValueError. Any shape. Minetti et al. 2002.

    >>> round(energy_cost_j_per_kg_m(0.10), 4)
    5.9682
    """
    _require_grade(grade)
    return _shaped(_polynomial(_RUNNING_COST, grade), grade)


@overload
def pace_factor(grade: float, model: GradeModel = DEFAULT_MODEL) -> float: ...
@overload
def pace_factor(grade: NDArray[np.float64], model: GradeModel = DEFAULT_MODEL) -> NDArray[np.float64]: ...
def pace_factor(
    grade: float | NDArray[np.float64], model: GradeModel = DEFAULT_MODEL
) -> float | NDArray[np.float64]:
    """Time on the grade over time on the level at equal effort; any shape.

    Grades from -0.45 to 0.45, else ValueError. "treadmill grade" runs on in straight lines beyond the -10 to
    +5 % that Davies measured.

    >>> round(pace_factor(0.04), 3), round(pace_factor(-0.02), 3), round(pace_factor(-0.10), 3)
    (1.132, 0.964, 0.919)
    """
    _require_grade(grade)
    return _shaped(_FACTORS[model](np.asarray(grade, dtype=np.float64)), grade)


def course_time_factor(grades: NDArray[np.float64], model: GradeModel = DEFAULT_MODEL) -> float:
    """Time over a course over the time on the flat at the same effort: the mean pace factor of grades on an
    even grid, shape (n,). ValueError where there are none or one is out of range."""
    if grades.size == 0:
        raise ValueError("grades must hold at least one grade, not 0")
    return float(np.mean(pace_factor(grades, model)))


def oxygen_uptake_ml_per_kg_min(speed_m_per_min: float, grade: float = 0.0) -> float:
    """Oxygen uptake of steady running on the level or uphill, ml/kg/min.

    ``0.2 v + 0.9 v G + 3.5`` with ``v`` in m/min, at least 80 (below 134 only where it is truly a run), and
    ``G`` from 0 to 0.45; there is no published form for descents. ValueError outside. ACSM running equation.

    >>> round(oxygen_uptake_ml_per_kg_min(160.8, 0.10), 3)
    50.132
    """
    require_within(
        speed_m_per_min, _OXYGEN_SLOWEST_M_PER_MIN, float("inf"), quantity="running speed", unit="m/min"
    )
    require_within(grade, 0.0, STEEPEST_GRADE, quantity="grade", unit="as a fraction, uphill only")
    return OXYGEN_FLAT * speed_m_per_min + OXYGEN_LIFT * speed_m_per_min * grade + OXYGEN_REST


def downhill_oxygen_uptake_ml_per_kg_min(speed_m_per_min: float, grade: float) -> float:
    """Oxygen uptake of recreational runners on gentle descents, ml/kg/min: the outside check on descents.

    ``6.8192 + 0.1313 v + 1.2367 G%`` with ``v`` 156 to 189 m/min (9.4 to 11.3 km/h) and grade from -0.054
    to 0. ValueError outside. Robergs RA, Wagner DR, Skemp KM. J Sports Med Phys Fitness 37:168-174, 1997.

    >>> round(downhill_oxygen_uptake_ml_per_kg_min(171.667, -0.054), 3)
    22.681
    """
    require_within(speed_m_per_min, 156.0, 189.0, quantity="running speed", unit="m/min")
    require_within(grade, -0.054, 0.0, quantity="grade", unit="as a fraction, downhill only")
    return 6.8192 + 0.1313 * speed_m_per_min + 1.2367 * grade * 100


def _energy_cost(grade: NDArray[np.float64]) -> NDArray[np.float64]:
    # Divided by the polynomial's own level value, 3.6, never by the 3.40 that was measured there.
    return _polynomial(_RUNNING_COST, grade) / _RUNNING_COST[-1]


def _race_records(grade: NDArray[np.float64]) -> NDArray[np.float64]:
    return _polynomial(_RECORD_PACE, grade) / _RECORD_PACE[-1]


def _treadmill_grade(grade: NDArray[np.float64]) -> NDArray[np.float64]:
    up = UP_COST * np.maximum(grade, 0.0)
    down = np.maximum(DOWN_CREDIT * np.minimum(grade, 0.0), QUICKEST_DESCENT - 1.0)
    braking = BRAKING_COST * np.maximum(BRAKING_BEGINS - grade, 0.0)
    return 1.0 + up + down + braking


def _oxygen_equation(grade: NDArray[np.float64]) -> NDArray[np.float64]:
    # At equal uptake the resting term cancels: v (0.2 + 0.9 G) is constant.
    return 1.0 + OXYGEN_LIFT / OXYGEN_FLAT * np.maximum(grade, 0.0)


_FACTORS: Final[dict[GradeModel, Callable[[NDArray[np.float64]], NDArray[np.float64]]]] = {
    "treadmill grade": _treadmill_grade,
    "race records": _race_records,
    "energy cost": _energy_cost,
    "oxygen equation": _oxygen_equation,
}


def _polynomial(coefficients: tuple[float, ...], at: float | NDArray[np.float64]) -> NDArray[np.float64]:
    return np.polyval(np.array(coefficients), np.asarray(at, dtype=np.float64))


def _require_grade(grade: float | NDArray[np.float64]) -> None:
    require_within(grade, -STEEPEST_GRADE, STEEPEST_GRADE, quantity="grade", unit="as a fraction")


def _shaped(result: NDArray[np.float64], like: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
    return result if isinstance(like, np.ndarray) else float(result)
