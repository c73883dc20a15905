"""From results to form: what is corrected, what is set aside, and that the runner is told."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.course import find_features
from planbuilder.demands.terrain import build_terrain
from planbuilder.physiology.gradient import course_time_factor
from planbuilder.runner import Form, until_test
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, say_time
from tests.runner.samples import LIMITS, course, form, result, runner


def test_threshold_of_the_worked_example() -> None:
    """52:00 for 10 km is 11.45 km/h, 5:15 per km for an hour. Common practice, no source."""
    found = form(runner(results=[result("10 km", "52:00")]))
    assert found.threshold_mps is not None
    assert found.threshold_mps * 3.6 == pytest.approx(11.45, abs=0.01)
    assert say_time(1000 / found.threshold_mps) == "5:15"


def test_threshold_is_the_hour_race_in_both_models() -> None:
    """Ten kilometres in an hour: nothing is left to convert."""
    found = form(runner(results=[result("10 km", "1:00:00")]))
    assert found.threshold_low_mps == pytest.approx(10_000 / 3600, rel=1e-6)
    assert found.threshold_high_mps == pytest.approx(10_000 / 3600, rel=1e-6)


def test_no_result_asks_for_a_test_and_trains_by_effort() -> None:
    found = form(runner(screening="passed"))
    assert found.needs_test
    assert found.by_effort
    assert found.anchor is None
    assert [note.kind for note in found.notes] == ["assumed"]
    (note,) = until_test(found.notes, dt.date(2027, 2, 23))
    assert note.text.endswith("by effort and breathing until the test on Tuesday 23 February.")


def test_no_test_is_announced_where_none_stands_in_the_plan() -> None:
    sore = runner(screening="passed", injuries=[{"place": "achilles", "pain": 3}])
    for who in (runner(), runner(screening="needed"), runner(screening="passed"), sore):
        (note,) = until_test(form(who).notes, None)
        assert note.text.endswith("until there is a newer one.")


@pytest.mark.parametrize(("date", "stale"), [("2026-11-23", False), ("2026-11-22", True)])
def test_a_result_is_stale_after_twelve_weeks(date: str, stale: bool) -> None:
    found = form(runner(results=[result("10 km", "44:10", date)]))
    assert found.stale is stale
    assert found.needs_test is stale
    assert found.by_effort is stale
    assert found.anchor is not None
    assert any(note.rule == "runner.result_age" for note in found.notes) is stale


def test_a_fresh_result_sets_a_stale_one_aside_however_good_it_was() -> None:
    found = form(runner(results=[result("10 km", "40:00", "2026-09-01"), result("10 km", "44:10")]))
    old, new = found.results
    assert not old.used
    assert "newer" in old.words
    assert found.anchor == new
    assert not found.stale


def test_a_result_of_more_than_a_year_ago_is_no_form_at_all() -> None:
    found = form(runner(results=[result("10 km", "40:00", "2026-02-14")]))
    assert found.anchor is None
    assert "365 days" in found.results[0].words


def test_a_hilly_result_is_corrected_by_its_course_file() -> None:
    hills = course([0.03, -0.03] * 10, distance_m=10_000.0)
    written = runner(results=[result("10 km", "45:00", course="hills.gpx")])
    found = form(written, courses={"hills.gpx": hills})
    flat_s = found.results[0].flat_time_s
    assert flat_s < 2700 / course_time_factor(hills.grade)  # the bare grades: without the rules of a race
    terrain = build_terrain(
        course=hills, features=find_features(hills, LIMITS), limits=LIMITS, level_speed_mps=10_000 / flat_s
    )
    assert flat_s * terrain.course_factor == pytest.approx(2700, abs=0.01)
    assert "climbs" in found.results[0].words


def test_a_downhill_result_counts_for_less() -> None:
    """Ten kilometres falling 100 m: the flat time is slower than the clock. Davies 1980 (second-hand): 1.8 %
    for each 1 % down; of that a race uses 0.3 in the first third, then more, the whole in the last (our
    choice within common practice), 0.65 on the mean."""
    downhill = course([-0.01], distance_m=10_000.0)
    written = runner(results=[result("10 km", "45:00", course="down.gpx")])
    found = form(written, courses={"down.gpx": downhill})
    assert found.results[0].flat_time_s == pytest.approx(2700 / (1 - 0.018 * 0.65), abs=0.5)
    assert "gave back" in found.results[0].words


def test_a_climb_figure_corrects_where_there_is_no_file() -> None:
    """120 m up and down again in 10 km: 3.3 points a percent up, 1.8 back down, 15 per mille of the climb."""
    found = form(runner(results=[result("10 km", "45:00", course="hilly", climb="120 m")]))
    assert found.results[0].flat_time_s == pytest.approx(2700 / (1 + 1.5 * 120 / 10_000), abs=0.01)


@pytest.mark.parametrize("words", ["rolling", "hilly"])
def test_a_course_in_words_stands_for_the_middle_of_its_class(words: str) -> None:
    flat = form(runner(results=[result("10 km", "45:00")])).results[0].flat_time_s
    hilly = form(runner(results=[result("10 km", "45:00", course=words)])).results[0].flat_time_s
    assert flat == 2700
    assert 2600 < hilly < flat


def test_a_hot_result_is_corrected_and_a_cool_one_left_alone() -> None:
    hot = form(runner(results=[result("half marathon", "1:45:00", temperature="22 C", humidity="60%")]))
    cool = form(runner(results=[result("half marathon", "1:45:00", temperature="2 C", humidity="60%")]))
    assert hot.results[0].flat_time_s < 6300 - 60
    assert "22 °C" in hot.results[0].words
    assert cool.results[0].flat_time_s == 6300


@given(
    time_s=st.integers(5 * 600, 60 * 600),
    distance=st.sampled_from(["5 km", "10 km", "half marathon", "marathon"]),
)
def test_of_two_times_on_one_hot_day_the_quicker_one_stays_quicker(time_s: int, distance: str) -> None:
    def flat_s(seconds: int) -> float:
        clock = f"{seconds // 3600}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"
        written = result(distance, clock, temperature="24 C", humidity="50%")
        return form(runner(results=[written])).results[0].flat_time_s

    assert flat_s(time_s) < flat_s(time_s + 30)


@pytest.mark.parametrize(
    ("written", "why"),
    [
        (result("10 km", "44:10", effort="training"), "run as training"),
        (result("10 km", "44:10", course="lost.gpx"), "not known"),
        (result("10 km", "44:10", temperature="36 C", humidity="70%"), "too hot"),
        (result("10 km", "44:10", course="hilly", climb="600 m"), "too much"),
        (result("10 km", "15:00"), "does not fit the distance"),
        (result("10 km", "5:00:00"), "does not fit the distance"),
        (result("100 km", "10:00:00"), "beyond the marathon"),
        (result("400 m", "1:10"), "too short"),
    ],
)
def test_what_cannot_be_compared_is_set_aside_with_the_reason(written: dict[str, str], why: str) -> None:
    found = form(runner(results=[written]))
    assert found.anchor is None
    assert found.needs_test
    assert not found.results[0].used
    assert why in found.results[0].words


def test_a_course_file_of_another_length_is_not_believed() -> None:
    short = course([0.0], distance_m=10_000.0, measured_m=9700.0)
    recorded = course([0.0], distance_m=10_000.0, measured_m=10_150.0)
    files = {"short.gpx": short, "recorded.gpx": recorded}
    found = form(
        runner(
            results=[
                result("10 km", "44:10", course="short.gpx"),
                result("10 km", "44:20", course="recorded.gpx"),
            ]
        ),
        courses=files,
    )
    assert [one.used for one in found.results] == [False, True]
    assert "another distance" in found.results[0].words


def test_models_that_differ_over_the_ground_widen_the_range() -> None:
    """A long climb: the energy cost charges it more than two points dearer than the treadmill grade does."""
    climb = course([0.012], distance_m=10_000.0)
    found = form(runner(results=[result("10 km", "48:00", course="up.gpx")]), courses={"up.gpx": climb})
    flat = form(runner(results=[result("10 km", "48:00")]))
    assert _spread(found) > _spread(flat) + 0.04
    assert "two models" in found.results[0].words


def test_two_results_that_disagree_widen_the_range_and_are_named() -> None:
    agree = form(runner(results=[result("10 km", "47:30"), result("half marathon", "1:45:00")]))
    apart = form(runner(results=[result("10 km", "52:00"), result("half marathon", "1:45:00")]))
    assert _spread(apart) > _spread(agree) + 0.05
    assert not any(note.rule == "runner.disagreement" for note in agree.notes)
    note = next(note for note in apart.notes if note.rule == "runner.disagreement")
    assert "half marathon" in note.text
    assert "10 km" in note.text


def test_the_result_nearest_in_time_and_distance_sets_the_paces() -> None:
    written = [result("5 km", "21:30"), result("half marathon", "1:40:00"), result("10 km", "45:00")]
    near_half = form(runner(results=written), race_distance_m=HALF_MARATHON_M)
    near_ten = form(runner(results=written), race_distance_m=10_000.0)
    assert near_half.anchor is not None
    assert near_ten.anchor is not None
    assert near_half.anchor.distance_m == HALF_MARATHON_M
    assert near_ten.anchor.distance_m == 10_000.0
    newer = [result("10 km", "45:00", "2026-12-01"), result("10 km", "45:30", "2027-02-10")]
    anchor = form(runner(results=newer)).anchor
    assert anchor is not None
    assert anchor.days_before_block == 5


def test_a_slip_in_the_unit_is_asked_about_and_does_not_set_paces() -> None:
    """A 10 mile time written as a 10 km: 25 % and more from the others."""
    written = [result("10 km", "1:24:00"), result("5 km", "25:00"), result("half marathon", "1:55:00")]
    found = form(runner(results=written))
    assert [one.used for one in found.results] == [False, True, True]
    note = next(note for note in found.notes if note.rule == "runner.typing_doubt")
    assert "10 km in 1:24:00" in note.text
    assert "unit" in note.text


def test_of_two_results_that_cannot_both_be_true_the_careful_one_counts() -> None:
    found = form(runner(results=[result("10 km", "38:00"), result("5 km", "27:00")]))
    assert found.anchor is not None
    assert found.anchor.distance_m == 5000.0
    assert any(note.rule == "runner.typing_doubt" for note in found.notes)


def test_an_effort_below_all_out_counts_only_where_there_is_none() -> None:
    both = form(runner(results=[result("half marathon", "1:50:00", effort="hard"), result("5 km", "22:00")]))
    assert [one.used for one in both.results] == [False, True]
    alone = form(runner(results=[result("half marathon", "1:50:00", effort="hard")]))
    assert alone.anchor is not None
    assert "more in you" in alone.anchor.words


def test_a_mile_says_nothing_of_a_marathon_where_a_half_is_given() -> None:
    found = form(
        runner(results=[result("1 mi", "6:00"), result("half marathon", "1:45:00")]),
        race_distance_m=MARATHON_M,
    )
    assert [one.used for one in found.results] == [False, True]
    alone = form(runner(results=[result("1 mi", "6:00")]), race_distance_m=MARATHON_M)
    assert alone.anchor is not None


def test_three_short_efforts_give_a_critical_speed() -> None:
    """The published example: 4.048987 m/s and 143.398 m; two efforts give none."""
    efforts = [result("400 m", "1:10"), result("800 m", "2:35"), result("5 km", "20:00")]
    found = form(runner(results=efforts))
    assert found.critical_speed_mps == pytest.approx(4.048987, abs=1e-6)
    assert found.d_prime_m == pytest.approx(143.398, abs=1e-3)
    two = form(runner(results=efforts[1:]))
    assert two.critical_speed_mps is None
    assert two.d_prime_m is None


def test_short_efforts_that_make_no_line_give_no_critical_speed_and_say_so() -> None:
    efforts = [result("800 m", "2:35"), result("1500 m", "5:20"), result("5 km", "17:00")]
    found = form(runner(results=efforts))
    assert found.critical_speed_mps is None
    assert any(note.rule == "runner.d_prime" for note in found.notes)


@pytest.mark.parametrize(
    ("injury", "stale"),
    [
        ({"place": "calf", "pain": 4, "since": "2027-02-01"}, True),
        ({"place": "calf", "pain": 1, "since": "2027-02-01", "limping": True}, True),
        ({"place": "calf", "pain": 0, "since": "2027-01-25", "cleared": "2027-02-10"}, True),
        ({"place": "calf", "pain": 1, "since": "2027-02-01"}, False),
        ({"place": "calf", "pain": 4, "since": "2026-12-01"}, False),
        ({"place": "calf", "pain": 4}, False),
    ],
)
def test_a_result_from_before_an_injury_is_stale_and_only_the_coach_reads_why(
    injury: dict[str, object], stale: bool
) -> None:
    found = form(runner(results=[result("10 km", "44:10")], injuries=[injury]))
    assert found.stale is stale
    public = " ".join(note.text for note in found.notes if not note.private) + found.results[0].words
    assert "injur" not in public
    assert any(note.private and "injury" in note.text for note in found.notes) is stale


@pytest.mark.parametrize(
    ("limit", "value", "rule"),
    [("runner.result_age", 20, "runner.result_age"), ("runner.disagreement", 0.001, "runner.disagreement")],
)
def test_a_coach_can_change_the_numbers(limit: str, value: float, rule: str) -> None:
    who = runner(results=[result("10 km", "47:00"), result("half marathon", "1:45:00")])
    usual = form(who)
    changed = form(who, limits=LIMITS.with_overrides({limit: value}))
    assert not any(note.rule == rule for note in usual.notes)
    assert any(note.rule == rule for note in changed.notes)


WRITTEN = st.fixed_dictionaries(
    {
        "distance": st.sampled_from(
            ["5 m", "100 m", "1 mi", "3 km", "10 km", "13.1 mi", "marathon", "60 km"]
        ),
        "time": st.sampled_from(["0:01", "0:12", "4:40", "11:00", "25:00", "44:10", "1:45:00", "4:10:00"]),
        "date": st.sampled_from(["2024-01-01", "2026-09-01", "2027-02-01", "2027-03-01"]),
        "course": st.sampled_from(["flat", "rolling", "hilly", "lost.gpx"]),
        "effort": st.sampled_from(["all-out", "hard", "training"]),
    },
    optional={
        "climb": st.sampled_from(["0 m", "150 m", "4000 m"]),
        "temperature": st.sampled_from(["-30 C", "15 C", "31 C", "55 C"]),
        "humidity": st.sampled_from(["0%", "70%", "100%"]),
    },
)


@given(results=st.lists(WRITTEN, max_size=5))
def test_whatever_results_are_written_each_gets_a_sentence_and_none_stops_the_plan(
    results: list[dict[str, str]],
) -> None:
    found = form(runner(results=results))
    assert len(found.results) == len(results)
    for one in found.results:
        assert one.words.endswith(".")
        assert one.used or "set aside, because" in one.words
    assert (found.anchor is None) == (found.threshold_mps is None)
    assert found.anchor is None or found.anchor.used
    assert found.needs_test == found.by_effort
    if found.threshold_mps is not None:
        assert found.threshold_low_mps is not None
        assert found.threshold_high_mps is not None
        assert found.threshold_low_mps <= found.threshold_mps <= found.threshold_high_mps


@given(seconds=st.integers(15 * 60, 38 * 60), quicker=st.integers(1, 100))
def test_a_faster_result_is_faster_form(seconds: int, quicker: int) -> None:
    slow = form(runner(results=[result("5 km", _clock(seconds))]))
    fast = form(runner(results=[result("5 km", _clock(seconds - quicker))]))
    for name in ("threshold_mps", "threshold_low_mps", "threshold_high_mps"):
        assert getattr(fast, name) > getattr(slow, name)


def test_the_same_race_in_miles_and_kilometres_is_the_same_form() -> None:
    km = form(runner(units="km", results=[result("16.09344 km", "1:20:00")]))
    mi = form(runner(units="mi", results=[result("10 mi", "1:20:00")]))
    assert mi.threshold_mps == pytest.approx(km.threshold_mps, rel=1e-12)


def _clock(seconds: int) -> str:
    return f"{seconds // 60}:{seconds % 60:02d}"


def _spread(found: Form) -> float:
    assert found.threshold_low_mps is not None
    assert found.threshold_high_mps is not None
    return found.threshold_high_mps / found.threshold_low_mps - 1
