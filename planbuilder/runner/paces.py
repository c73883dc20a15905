"""Training pace bands: effort first, pace from form, heart rate only from a measured maximum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, get_args

from planbuilder import units
from planbuilder.runner.prediction import predict
from planbuilder.runner.types import Band, Form, Paces
from planbuilder.runner.volume import level_of, trusted_volume
from planbuilder.runner.words import race_words, result_words
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.session_models import BandName

_TALK: Final[dict[str, str]] = {
    "recovery": "you can chat, you could sing",
    "easy": "whole sentences",
    "long": "whole sentences",
    "steady": "short sentences",
    "marathon effort": "phrases",
    "half-marathon effort": "a few words",
    "threshold": "a few words",
    "10 km effort": "single words",
    "5 km effort": "no talking",
    "intervals": "no talking",
    "repetitions": "no talking, but relaxed",
    "strides": "quick and smooth, never straining",
}
_EFFORT_BY_RACE_M: Final = (
    (5_000.0, "5 km effort"),
    (10_000.0, "10 km effort"),
    (units.HALF_MARATHON_M, "half-marathon effort"),
    (units.MARATHON_M, "marathon effort"),
)


@dataclass(frozen=True, slots=True)
class _Speeds:
    """What the pace of any band is made from."""

    threshold_mps: float
    quicker: float  # shares by which bands widen
    slower: float


def find_paces(
    form: Form,
    runner: RunnerSettings,
    *,
    race_distance_m: float,
    race_flat_s_per_km: float | None,
    limits: Limits,
) -> Paces:
    """Every band of the house for this runner.

    Bands below and above threshold are shares of threshold speed, those below never in marathon effort;
    race-effort bands lie around the predicted
    speed for that race; "race effort" around ``race_flat_s_per_km``, or the prediction where it is None. A
    runner without a fresh result gets the same bands by effort alone.
    """
    speeds = _speeds(form, limits)
    shown = None if form.by_effort else speeds
    bands = [
        _band(name, shown, form, runner, race_distance_m, race_flat_s_per_km, limits)
        for name in get_args(BandName)
    ]
    return Paces(
        bands=tuple(bands),
        words=_words(form, runner),
        easy_s_per_km=_easy_s_per_km(speeds, form, runner, limits),
    )


def _speeds(form: Form, limits: Limits) -> _Speeds | None:
    main = form.threshold_mps
    if main is None or form.threshold_low_mps is None or form.threshold_high_mps is None:
        return None
    widest = limits.number("runner.widest_spread")
    return _Speeds(
        threshold_mps=main,
        quicker=min(form.threshold_high_mps / main - 1, widest),
        slower=min(1 - form.threshold_low_mps / main, widest),
    )


def _band(
    name: BandName,
    speeds: _Speeds | None,
    form: Form,
    runner: RunnerSettings,
    race_distance_m: float,
    race_flat_s_per_km: float | None,
    limits: Limits,
) -> Band:
    effort = _race_effort(race_distance_m) if name == "race effort" else name
    rpe_low, rpe_high = limits.table("runner.band_effort")[effort]
    fast, slow, why = None, None, "by effort: there is no fresh result to take a pace from"
    if speeds is not None and name in limits.table("runner.band_speed"):
        found = _by_threshold(_shares(name, speeds, form, runner, limits), speeds)
        fast, slow, why = _behind_marathon(name, found, speeds, form, runner, limits)
    elif speeds is not None:
        distance_m, share = limits.table("runner.band_race")[_tolerance_of(effort)]
        pace = None
        if name == "race effort":
            distance_m, pace = race_distance_m, race_flat_s_per_km
        if pace is None:
            pace = _predicted_s_per_km(form, runner, distance_m, limits)
        fast = pace / ((1 + share) * (1 + speeds.quicker))
        slow = pace / ((1 - share) * (1 - speeds.slower))
        why = f"around {units.pace_mark(pace)}, the pace that {race_words(distance_m)} asks of you"
    heart_low, heart_high = _heart_rates(effort, runner.max_heart_rate, limits)
    return Band(
        name=name,
        rpe_low=float(rpe_low),
        rpe_high=float(rpe_high),
        talk=_TALK[effort],
        fast_s_per_km=fast,
        slow_s_per_km=slow,
        heart_rate_low=heart_low,
        heart_rate_high=heart_high,
        why=why,
    )


def _shares(
    name: BandName, speeds: _Speeds, form: Form, runner: RunnerSettings, limits: Limits
) -> tuple[float, float]:
    """Shares of threshold speed of a band, held down by what the runner could race above threshold."""
    low, high = limits.table("runner.band_speed")[name]
    ceiling = limits.table("runner.band_ceiling").get(name)
    if ceiling is None:
        return low, high
    slow_m, quick_m, above = ceiling
    slow_mps = 1000 / _predicted_s_per_km(form, runner, slow_m, limits)
    quick_mps = 1000 / _predicted_s_per_km(form, runner, quick_m, limits)
    quickest = (1 + above) * quick_mps / speeds.threshold_mps
    return min(low, slow_mps / speeds.threshold_mps), min(high, quickest)


def _by_threshold(shares: tuple[float, float], speeds: _Speeds) -> tuple[float, float, str]:
    low, high = shares
    fast = 1000 / (speeds.threshold_mps * high * (1 + speeds.quicker))
    slow = 1000 / (speeds.threshold_mps * low * (1 - speeds.slower))
    threshold = units.pace_mark(1000 / speeds.threshold_mps)
    return fast, slow, f"{low * 100:.0f} to {high * 100:.0f} % of the speed of your threshold, {threshold}"


def _behind_marathon(
    name: str,
    band: tuple[float, float, str],
    speeds: _Speeds,
    form: Form,
    runner: RunnerSettings,
    limits: Limits,
) -> tuple[float, float, str]:
    """The band (quick end, slow end, why) without what would be marathon effort or quicker. The pace of a
    marathon is no share of the threshold: it is slower the less somebody runs in a week."""
    fast, slow, why = band
    shares = limits.table("runner.band_behind_marathon")
    if name not in shares:
        return band
    marathon = _predicted_s_per_km(form, runner, units.MARATHON_M, limits)
    most = marathon * (1 + shares[name])
    if fast >= most:
        return band
    low, high = limits.table("runner.band_speed")[name]
    least = marathon * (1 + shares["easy"]) if name == "steady" else most * math.sqrt(high / low)
    why = f"{why}, but no quicker than {units.pace_mark(most)}, beside your marathon effort"
    return most, max(slow, least / (1 - speeds.slower)), why


def _race_effort(race_distance_m: float) -> str:
    return min(_EFFORT_BY_RACE_M, key=lambda row: abs(math.log(row[0] / race_distance_m)))[1]


def _tolerance_of(effort: str) -> str:
    return "10 km effort" if effort == "5 km effort" else effort


def _predicted_s_per_km(form: Form, runner: RunnerSettings, distance_m: float, limits: Limits) -> float:
    weekly_m = trusted_volume(runner, limits).weekly_distance_m
    found = predict(form, distance_m=distance_m, weekly_distance_m=weekly_m, limits=limits)
    assert found is not None  # asked only where there is a result
    return found.time_s / distance_m * 1000


def _heart_rates(effort: str, maximum: int | None, limits: Limits) -> tuple[int | None, int | None]:
    shares = limits.table("runner.band_heart_rate").get(effort)
    if maximum is None or shares is None:
        return None, None
    low, high = shares
    return (math.ceil(low * maximum) if low else None), math.floor(high * maximum)


def _easy_s_per_km(speeds: _Speeds | None, form: Form, runner: RunnerSettings, limits: Limits) -> float:
    if speeds is None:
        return float(limits.table("runner.level_pace")[level_of(runner, limits)])
    found = _by_threshold(limits.table("runner.band_speed")["easy"], speeds)
    fast, slow, _ = _behind_marathon("easy", found, speeds, form, runner, limits)
    return (fast + slow) / 2


def _words(form: Form, runner: RunnerSettings) -> str:
    heart = (
        "Heart rates come from your measured maximum and lag behind on hills and in heat."
        if runner.max_heart_rate
        else "There are no heart rates, because a measured maximum is not given."
    )
    if form.by_effort or form.anchor is None or form.threshold_mps is None:
        return f"By effort and breathing until a result sets paces. {heart}"
    source = result_words(form.anchor.distance_m, form.anchor.time_s)
    threshold = units.pace_mark(1000 / form.threshold_mps)
    return (
        f"From your {source}: threshold about {threshold}. The effort comes first; the pace is what it "
        f"usually gives on level ground in cool weather. {heart}"
    )
