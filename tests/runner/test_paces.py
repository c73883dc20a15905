"""Pace bands: every band is there, effort first, and nobody is sent out too fast."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planbuilder.physiology.endurance import endurance_index
from planbuilder.runner import Band, find_paces
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.session_models import BandName
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, MARK, parse_time, say_in, say_time
from tests.runner.samples import LIMITS, form, paces, prediction, result, runner


def test_every_band_is_there_with_effort_and_a_talk_test() -> None:
    for who in (runner(), runner(results=[result("10 km", "44:10")])):
        found = paces(who)
        assert [band.name for band in found.bands] == list(get_args(BandName))
        for band in found.bands:
            assert 1 <= band.rpe_low <= band.rpe_high <= 9
            assert band.talk


def test_threshold_and_intervals_lie_where_the_book_has_them() -> None:
    """Daniels' Running Formula, 3rd ed. 2014, an index of 50 (10 km in 41:20): threshold 4:15, intervals 3:55
    per km; from memory."""
    found = paces(runner(results=[result("10 km", "41:20")]))
    assert _holds(found.band("threshold"), parse_time("4:15"))
    assert _holds(found.band("intervals"), parse_time("3:55"))


@pytest.mark.parametrize(
    ("time", "slow_end", "fast_end"),
    [("50:01", "6:59", "5:51"), ("41:20", "5:52", "4:54"), ("35:22", "5:04", "4:13")],
)
def test_easy_running_lies_inside_the_published_share_of_the_maximum(
    time: str, slow_end: str, fast_end: str
) -> None:
    """59 to 74 % of the maximal uptake (Daniels 2014, from memory), turned into paces by the equation of 1979
    for the indexes 40, 50 and 60, computed apart from this code."""
    easy = paces(runner(results=[result("10 km", time)])).band("easy")
    fast, slow = _ends(easy)
    assert parse_time(fast_end) <= fast < slow <= parse_time(slow_end)


def test_a_slow_marathoner_is_not_sent_out_at_a_share_of_threshold() -> None:
    """The usual 86 to 94 % of threshold speed would be too fast on 30 km a week: the band follows the
    prediction of recreational runners instead."""
    who = runner(results=[result("10 km", "58:00")], weekly_distance="30 km", longest_run="24 km")
    found = paces(who, race_distance_m=MARATHON_M)
    threshold = form(who).threshold_mps
    assert threshold is not None
    fast, _ = _ends(found.band("marathon effort"))
    assert fast > 1000 / (0.94 * threshold)
    assert found.band("race effort").fast_s_per_km == fast


def test_race_effort_follows_the_pace_it_is_given() -> None:
    who = runner(results=[result("10 km", "44:10")])
    found = find_paces(
        form(who), who, race_distance_m=HALF_MARATHON_M, race_flat_s_per_km=280.0, limits=LIMITS
    )
    race = found.band("race effort")
    assert _holds(race, 280.0)
    assert not _holds(found.band("threshold"), 280.0)
    assert race.rpe_low == found.band("half-marathon effort").rpe_low


@pytest.mark.parametrize(
    ("distance_m", "rpe"),
    [(5000.0, (8, 9)), (10_000.0, (8, 8)), (HALF_MARATHON_M, (6, 7)), (MARATHON_M, (5, 6))],
)
def test_race_effort_has_the_effort_of_its_distance(distance_m: float, rpe: tuple[int, int]) -> None:
    """Effort ladders of the trade, common practice."""
    race = paces(runner(results=[result("10 km", "44:10")]), race_distance_m=distance_m).band("race effort")
    assert (race.rpe_low, race.rpe_high) == rpe


@pytest.mark.parametrize(
    "who", [runner(), runner(results=[result("10 km", "44:10", "2026-10-01")])], ids=["none", "stale"]
)
def test_without_a_fresh_result_every_band_is_by_effort(who: RunnerSettings) -> None:
    found = paces(who)
    for band in found.bands:
        assert band.fast_s_per_km is None
        assert band.slow_s_per_km is None
        assert "effort" in band.why
    assert 240 < found.easy_s_per_km < 600
    assert "By effort" in found.words


def test_heart_rates_come_only_from_a_measured_maximum() -> None:
    without = paces(runner(results=[result("10 km", "44:10")], age=38))
    assert all(band.heart_rate_high is None and band.heart_rate_low is None for band in without.bands)
    measured = paces(runner(results=[result("10 km", "44:10")], max_heart_rate=190))
    assert (measured.band("easy").heart_rate_low, measured.band("easy").heart_rate_high) == (124, 148)
    assert measured.band("recovery").heart_rate_low is None
    for name in ("repetitions", "strides"):
        assert measured.band(name).heart_rate_high is None


def test_heart_rates_rise_with_effort_and_agree_with_published_words() -> None:
    """Moderate exercise is 64 to 76 % of the peak heart rate, vigorous 77 to 95 % (public guidelines)."""
    found = paces(runner(max_heart_rate=200))
    easy, steady = found.band("easy"), found.band("steady")
    assert easy.heart_rate_low is not None
    assert 0.64 * 200 <= easy.heart_rate_low <= 0.76 * 200
    assert steady.heart_rate_low is not None
    assert 0.77 * 200 <= steady.heart_rate_low <= 0.95 * 200
    names: tuple[BandName, ...] = ("recovery", "easy", "steady", "threshold", "10 km effort", "intervals")
    tops = [found.band(name).heart_rate_high or 0 for name in names]
    assert tops == sorted(tops)


def test_bands_quicken_with_effort() -> None:
    found = paces(runner(results=[result("10 km", "44:10")], weekly_distance="50 km", longest_run="20 km"))
    names: tuple[BandName, ...] = (
        "recovery",
        "easy",
        "steady",
        "half-marathon effort",
        "threshold",
        "10 km effort",
        "intervals",
        "repetitions",
    )
    middles = [sum(_ends(found.band(name))) / 2 for name in names]
    assert middles == sorted(middles, reverse=True)


@settings(max_examples=60)
@given(
    seconds_per_10_km=st.integers(15 * 60, 60 * 60),
    distance=st.sampled_from(
        [("5 km", 5.0), ("10 km", 10.0), ("half marathon", 21.0975), ("marathon", 42.195)]
    ),
    weekly_km=st.integers(10, 130),
    second=st.sampled_from([None, 0.93, 1.0, 1.07]),
)
def test_bands_below_marathon_effort_never_reach_into_it(
    seconds_per_10_km: int, distance: tuple[str, float], weekly_km: int, second: float | None
) -> None:
    """Steady lies behind marathon effort and easy clearly (4 %, our choice) behind it; common practice, no
    source."""
    name, km = distance
    results = [result(name, _long_clock(seconds_per_10_km * (km / 10) ** 1.08))]
    if second is not None and name != "10 km":
        results.append(result("10 km", _long_clock(seconds_per_10_km * second)))
    who = runner(results=results, weekly_distance=f"{weekly_km} km", longest_run=f"{weekly_km / 2} km")
    if form(who).by_effort:  # beyond the world's best
        return
    found = paces(who)
    marathon = prediction(who, MARATHON_M).time_s / MARATHON_M * 1000
    steady, easy = _ends(found.band("steady")), _ends(found.band("easy"))
    assert _ends(found.band("marathon effort"))[0] < marathon <= steady[0] + 1e-9
    assert steady[0] < easy[0]
    assert steady[1] <= easy[1]
    names: tuple[BandName, ...] = ("easy", "long", "recovery")
    for behind in names:
        assert _ends(found.band(behind))[0] >= marathon * 1.04 - 1e-9
    assert easy[0] <= _ends(found.band("recovery"))[0]
    for band in found.bands:
        fast, slow = _ends(band)
        assert slow >= fast * 1.03
    assert easy[0] < found.easy_s_per_km < easy[1]


def test_results_that_disagree_make_every_band_wider() -> None:
    one = paces(runner(results=[result("half marathon", "1:45:00")]))
    two = paces(runner(results=[result("half marathon", "1:45:00"), result("10 km", "52:00")]))
    for narrow, wide in zip(one.bands, two.bands, strict=True):
        assert _width(wide) > _width(narrow) + 0.02


@settings(max_examples=25)
@given(seconds=st.integers(16 * 60, 40 * 60), quicker=st.integers(1, 60))
def test_faster_form_is_faster_in_every_band(seconds: int, quicker: int) -> None:
    slow = paces(runner(results=[result("5 km", _clock(seconds))]))
    fast = paces(runner(results=[result("5 km", _clock(seconds - quicker))]))
    for slow_band, fast_band in zip(slow.bands, fast.bands, strict=True):
        for before, after in zip(_ends(slow_band), _ends(fast_band), strict=True):
            assert after < before
    assert fast.easy_s_per_km < slow.easy_s_per_km


@settings(max_examples=25)
@given(seconds=st.integers(16 * 60, 40 * 60))
def test_every_band_has_a_quick_and_a_slow_end_and_holds_its_middle(seconds: int) -> None:
    for band in paces(runner(results=[result("5 km", _clock(seconds))])).bands:
        fast, slow = _ends(band)
        assert 120 < fast < slow


@pytest.mark.parametrize("time", ["15:00", "17:00", "20:00", "25:00", "30:00", "40:00"])
def test_intervals_are_three_to_five_kilometre_effort_for_quick_and_slow_runners(time: str) -> None:
    """The trade's words for them, common practice; the equivalent 3 km is 0.6^1.06 of the time. Quick ends
    may lie 2 % (repetitions: 5 %) beyond and one more for the difference of the models."""
    found = paces(runner(results=[result("5 km", time)]))
    fast, slow = _ends(found.band("intervals"))
    five_km, three_km = parse_time(time) / 5, parse_time(time) * 0.6**1.06 / 3
    assert three_km / 1.03 <= fast < five_km + 0.5
    assert slow >= five_km - 0.5
    mile = parse_time(time) * 0.3218688**1.06 / 1.609344
    assert _ends(found.band("repetitions"))[0] >= mile / 1.06


def test_kilometres_and_miles_give_the_same_metres() -> None:
    km = paces(runner(units="km", results=[result("16.09344 km", "1:20:00")], weekly_distance="48.28032 km"))
    mi = paces(runner(units="mi", results=[result("10 mi", "1:20:00")], weekly_distance="30 mi"))
    for one, other in zip(km.bands, mi.bands, strict=True):
        assert _ends(one) == pytest.approx(_ends(other), rel=1e-9)


def test_sentences_read_in_kilometres_and_in_miles() -> None:
    found = paces(runner(results=[result("10 km", "44:10")], max_heart_rate=186))
    texts = [found.words, *(band.why for band in found.bands)]
    assert any(MARK.search(text) for text in texts)
    for text in texts:
        assert not MARK.search(say_in(text, "km"))
        assert "/km" not in say_in(text, "mi")
        assert "/mi" not in say_in(text, "km")


def test_easy_pace_stands_in_the_middle_of_its_band() -> None:
    found = paces(runner(results=[result("10 km", "44:10")]))
    assert found.easy_s_per_km == pytest.approx(sum(_ends(found.band("easy"))) / 2, abs=1e-9)


def test_recovery_is_gentler_than_any_race_of_the_runner() -> None:
    """A runner's recovery pace asks for less than two thirds of the index of the race it came from."""
    found = paces(runner(results=[result("10 km", "44:10")]))
    fast, _ = _ends(found.band("recovery"))
    race = endurance_index(distance_m=10_000.0, time_s=2650.0)
    assert endurance_index(distance_m=10_000.0, time_s=fast * 10) < 0.72 * race


def _ends(band: Band) -> tuple[float, float]:
    assert band.fast_s_per_km is not None
    assert band.slow_s_per_km is not None
    return band.fast_s_per_km, band.slow_s_per_km


def _holds(band: Band, pace_s_per_km: float) -> bool:
    fast, slow = _ends(band)
    return fast <= pace_s_per_km <= slow


def _width(band: Band) -> float:
    fast, slow = _ends(band)
    return slow / fast - 1


def _long_clock(seconds: float) -> str:
    return say_time(round(seconds))


def _clock(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02d}"
