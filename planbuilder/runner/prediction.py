"""From form to a flat, cool race time: a figure and the range of the models."""

from __future__ import annotations

import math
from typing import Final

from planbuilder import units
from planbuilder.physiology.critical_speed import CriticalSpeed, marathon_from_critical_speed_s
from planbuilder.physiology.equivalence import marathon_from_one_race_s, marathon_from_two_races_s
from planbuilder.runner.models import equivalents
from planbuilder.runner.types import Form, Prediction, UsedResult
from planbuilder.runner.words import race_words
from planbuilder.settings.limits import Limits

ONE_RACE: Final = "survey of recreational runners, one race (Vickers and Vertosick 2016)"
TWO_RACES: Final = "survey of recreational runners, two races (Vickers and Vertosick 2016)"
CRITICAL_SPEED: Final = "critical speed (Smyth and Muniz-Pumares 2020)"
CRITICAL_LINE: Final = "critical speed"


def predict(form: Form, *, distance_m: float, weekly_distance_m: float, limits: Limits) -> Prediction | None:
    """The time the runner could race now over a flat course in cool weather; None without a result.

    The figure is that of the power law, for the marathon that of the survey of recreational runners where the
    anchor lies within it. Every model and every result that counts widens the range, and it reaches at least
    as far to each side as runners differ from such a figure, which is less where results agree.
    """
    if form.anchor is None:
        return None
    anchor = form.anchor
    models = list(
        equivalents(
            distance_m=anchor.distance_m,
            time_s=anchor.flat_time_s,
            to_m=distance_m,
            weekly_distance_m=weekly_distance_m,
            limits=limits,
        )
    )
    time_s = law_s = models[0][1]
    if _is_marathon(distance_m) and not _is_marathon(anchor.distance_m):
        survey = _survey(form, anchor, weekly_distance_m)
        time_s = survey[0][1] if survey else time_s
        models = [*survey, *models]
    models.extend(_by_critical_speed(form, distance_m))
    agree = 1
    for other in form.results:
        if other.used and other is not anchor:
            found = _by_other_result(other, distance_m, weekly_distance_m, limits)
            agree += abs(found[0][1] / law_s - 1) <= limits.number("runner.disagreement")
            models.extend(found)
    surveyed = ONE_RACE in dict(models)
    scatter = _scatter(anchor, distance_m, agree, surveyed=surveyed, limits=limits)
    wider = limits.number("runner.stale_spread") if form.stale else 0.0
    seconds = [time_s * (1 - scatter), time_s * (1 + scatter), *(model_s for _, model_s in models)]
    return Prediction(
        distance_m=distance_m,
        time_s=time_s,
        low_s=min(seconds) / (1 + wider),
        high_s=max(seconds) / (1 - wider),
        models=tuple(models),
    )


def _scatter(anchor: UsedResult, distance_m: float, agree: int, *, surveyed: bool, limits: Limits) -> float:
    """How far runners differ from such a figure, each way: a share of the time. ``agree`` results that say
    the same are surer than one; the luck of race day itself stays."""
    if surveyed:
        one, two = limits.numbers("runner.marathon_scatter")
        return one if agree < 2 else two
    day, doubling = limits.numbers("runner.race_scatter")
    doublings = abs(math.log2(distance_m / anchor.distance_m))
    return day * math.sqrt((1 + 1 / agree) / 2) + doubling * doublings


def _is_marathon(distance_m: float) -> bool:
    return abs(distance_m - units.MARATHON_M) < 0.01 * units.MARATHON_M


def _survey(form: Form, anchor: UsedResult, weekly_distance_m: float) -> list[tuple[str, float]]:
    """The surveyed models, where the results lie within 5 km to the half marathon."""
    found = []
    try:
        one_s = marathon_from_one_race_s(
            anchor.flat_time_s, distance_m=anchor.distance_m, weekly_distance_m=weekly_distance_m
        )
        found.append((ONE_RACE, one_s))
    except ValueError:
        return []
    for other in form.results:
        if other.used and other is not anchor:
            try:
                two_s = marathon_from_two_races_s(
                    (anchor.distance_m, anchor.flat_time_s),
                    (other.distance_m, other.flat_time_s),
                    weekly_distance_m=weekly_distance_m,
                )
            except ValueError:
                continue
            found.append((TWO_RACES, two_s))
            break
    return found


def _by_critical_speed(form: Form, distance_m: float) -> list[tuple[str, float]]:
    if form.critical_speed_mps is None or form.d_prime_m is None:
        return []
    try:
        if _is_marathon(distance_m):
            return [(CRITICAL_SPEED, marathon_from_critical_speed_s(form.critical_speed_mps))]
        line = CriticalSpeed(form.critical_speed_mps, form.d_prime_m)
        return [(CRITICAL_LINE, line.time_s(distance_m))]
    except ValueError:
        return []  # longer, or shorter, than the line reaches


def _by_other_result(
    other: UsedResult, distance_m: float, weekly_distance_m: float, limits: Limits
) -> list[tuple[str, float]]:
    found = equivalents(
        distance_m=other.distance_m,
        time_s=other.flat_time_s,
        to_m=distance_m,
        weekly_distance_m=weekly_distance_m,
        limits=limits,
    )
    return [(f"{name}, from your {race_words(other.distance_m)}", seconds) for name, seconds in found]
