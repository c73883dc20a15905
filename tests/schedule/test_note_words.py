"""What a plan says as a whole: which bound holds the longest run, and sentences that promise nothing.

The least to race on and the lengths of runs: common practice, no source.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from random import Random
from typing import Any, Final

import pytest

from planbuilder.course.types import Feature, FeatureKind
from planbuilder.demands.types import Demand, DemandKind
from planbuilder.schedule import make_schedule
from planbuilder.schedule.replan import Situation, describe
from planbuilder.schedule.words import DEMAND_WORDS, demand_words
from planbuilder.units import say_in
from tests.schedule.builders import request_of
from tests.schedule.random_blocks import odd_block, sensible_block

RUNNER: Final[Mapping[str, Any]] = {
    "days": ["tuesday", "thursday", "saturday", "sunday"],
    "age": 30,
    "results": [{"distance": "10 km", "time": "50:00", "date": dt.date(2027, 2, 7)}],
}
WALKING: Final = [{"distance": "10 km", "time": "1:45:00", "date": dt.date(2027, 2, 7)}]
BOUNDS: Final[Mapping[str, tuple[str, Mapping[str, Any]]]] = {
    "the time of one run": (
        "In 2 h 30 min, the most for one run, the longest run reaches 12 km; 15 km are the least to race on.",
        {"weekly_distance": "40 km", "longest_run": "13 km", "results": WALKING},
    ),
    "half of its week": (
        "The long run is at most half of its week; in these weeks and on your days a week may grow to ",
        {"distance": "marathon", "weeks": 16, "weekly_distance": "34 km", "longest_run": "16 km"},
    ),
    "how fast it may grow": (
        "Growing no faster than the rules allow, the longest run reaches ",
        {"weeks": 10, "weekly_distance": "36 km", "longest_run": "7 km"},
    ),
}


@pytest.mark.parametrize("bound", BOUNDS)
def test_advice_against_a_race_names_what_holds_the_longest_run(bound: str) -> None:
    words, block = BOUNDS[bound]
    plan = make_schedule(request_of(**{**RUNNER, **block}))
    advice = [say_in(note.text, "km") for note in plan.notes if note.rule == "phase.runway"]
    assert any(text.startswith(words) and "We advise a shorter race" in text for text in advice), advice
    longest_m = max(one.distance_m for week in plan.weeks for one in week.sessions if one.role == "long")
    assert any(
        f"the longest run {verb} {_km(longest_m)}" in text for text in advice for verb in ("is", "reaches")
    )


def _km(metres: float) -> str:
    return f"{round(metres / 500) / 2:g} km"


def test_too_few_long_runs_are_said_without_a_promise() -> None:
    request = request_of(
        **{**RUNNER, "distance": "marathon", "weeks": 16, "weekly_distance": "60 km", "longest_run": "12 km"}
    )
    texts = [note.text for note in make_schedule(request).notes if note.rule == "wish.longest_run"]
    assert len(texts) == 1
    assert texts[0].endswith("150 min were wished for, and neither a week nor a run may grow that fast.")


def test_no_note_promises_scolds_or_reads_broken() -> None:
    blocks = [make(Random(seed)) for seed in range(25) for make in (sensible_block, odd_block)]
    for block in blocks:
        plan = make_schedule(request_of(**block))
        for note in (*plan.notes, *plan.private_notes):
            text = say_in(note.text, "km")
            assert re.match(r"[A-Z0-9].*[.!?]$", text), text
            assert not re.search(
                r"\b(safe|guarantee|will not hurt|failed|lazy|must have)\b|  |, ,|;;", text
            ), text
            assert not re.search(r"\b1 (days|weeks|runs|sessions|times)\b", text), text


def test_a_runner_without_hills_reads_what_would_help_and_a_sore_one_does_not() -> None:
    def said(**changes: Any) -> str:
        plan = make_schedule(request_of(**{**RUNNER, "weekly_distance": "40 km", **changes}))
        return " ".join(note.text for note in plan.notes if note.rule == "wish.climb_sessions")

    assert "A bridge or a ramp near home" in said(hills=False)
    sore = said(injuries=[{"place": "achilles", "pain": 2}])
    assert sore
    assert "ramp" not in sore


def test_a_tune_up_is_advised_for_days_on_which_the_runner_is_at_home() -> None:
    away = [{"from": dt.date(2027, 3, 29), "to": dt.date(2027, 4, 12), "runs": 3}]
    plan = make_schedule(request_of(**RUNNER, weekly_distance="40 km", longest_run="14 km", away=away))
    advice = next(note.text for note in plan.notes if note.rule == "tune_up.candidate")
    assert "between Tuesday 13 April and Sunday 25 April" in advice


def test_what_holds_twice_is_said_to_hold_once_more() -> None:
    away = [{"from": dt.date(2027, 3, 29), "to": dt.date(2027, 4, 11), "runs": 2}]
    plan = make_schedule(request_of(**RUNNER, weekly_distance="40 km", longest_run="14 km", away=away))
    assert any(note.text.endswith("The same holds once more.") for note in plan.notes)


def test_a_race_week_below_its_share_of_the_load_is_told_with_both_numbers() -> None:
    """A taper takes 41 to 60 % off the load (Bosquet et al. 2007); 40 to 55 % stay in race week of a half."""

    def last_week(days: list[str]) -> tuple[float, list[str]]:
        plan = make_schedule(request_of(**{**RUNNER, "days": days, "weekly_distance": "40 km"}))
        loaded = [week.distance_m for week in plan.weeks if week.phase != "taper" and not week.recovery]
        share = plan.weeks[-1].distance_m / (sum(loaded[-3:]) / 3)
        return share, [say_in(note.text, "km") for note in plan.notes if note.rule == "taper.last_days_run"]

    share, told = last_week(["monday", "tuesday", "wednesday", "friday", "sunday"])
    assert share >= 0.36
    assert not told
    share, told = last_week(["wednesday", "saturday", "sunday"])
    assert share < 0.36
    assert len(told) == 1
    assert f"{share * 100:.0f} % of the load before; 40 % to 55 % is usual." in told[0]


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (dt.date(2027, 3, 1), ["between Sunday 11 April and Sunday 25 April"]),
        (dt.date(2027, 4, 15), ["between Thursday 15 April and Sunday 25 April"]),
        (dt.date(2027, 4, 26), []),
    ],
)
def test_a_tune_up_is_advised_while_its_window_is_open(day: dt.date, said: list[str]) -> None:
    """10 km three to five weeks before a half marathon: common practice, no source."""
    request = request_of(**RUNNER, weekly_distance="40 km", longest_run="14 km")
    weeks = make_schedule(request).all_weeks
    plan = describe(Situation(request=request, accepted=weeks, original=weeks, today=day))
    advice = [note.text for note in plan.notes if note.rule == "tune_up.candidate"]
    assert len(advice) == len(said)
    assert all(words in advice[0] for words in said)


@pytest.mark.parametrize(("day", "told"), [(dt.date(2027, 4, 18), 1), (dt.date(2027, 4, 19), 0)])
def test_a_race_that_could_be_entered_is_judged_until_its_day(day: dt.date, told: int) -> None:
    quarry = {"name": "Quarry 10", "date": dt.date(2027, 4, 18), "distance": "10 km", "entered": False}
    runner = {**RUNNER, "training": {"tune_ups": [quarry]}}
    request = request_of(**runner, weekly_distance="40 km", longest_run="14 km")
    weeks = make_schedule(request).all_weeks
    plan = describe(Situation(request=request, accepted=weeks, original=weeks, today=day))
    assert sum("Quarry 10" in note.text for note in plan.notes) == told


# What a session answers: kind, its feature and name, from and to (m), mean grade; in km, in miles.
STRETCHES: Final[tuple[tuple[DemandKind, FeatureKind | None, str, float, float, float, str, str], ...]] = (
    ("downhill_start", "downhill_start", "downhill start", 0, 1500, -0.02, "the downhill start, −2 %", ""),
    ("early_hills", "climb", "climb 1", 0, 3000, 0.002, "the early hills", ""),
    ("early_hills", None, "", 0, 3000, 0.02, "the early hills", ""),
    ("long_flat", "flat", "the long flat", 2000, 9000, 0.0, "the long flat at km 2.0", "mile 1.2"),
    ("rolling", None, "", 0, 10000, 0.0, "the rolling ground", ""),
    ("late_climb", "climb", "climb 3", 7000, 8000, 0.04, "climb 3 at km 7.0, 4 %", "mile 4.3"),
    ("late_climb", "climb", "climb", 7000, 8000, 0.04, "the climb at km 7.0, 4 %", "mile 4.3"),
    (
        "hilly_finish",
        "hilly_finish",
        "hilly finish",
        7500,
        10000,
        -0.032,
        "the hilly finish from km 7.5",
        "4.7",
    ),
    (
        "finish_drag",
        "finish_drag",
        "finish drag",
        9000,
        10000,
        0.009,
        "the finish drag at km 9.0, 0.9 %",
        "5.6",
    ),
    ("long_descent", "descent", "descent 1", 2600, 3600, -0.055, "descent 1 at km 2.6, −5.5 %", "mile 1.6"),
    ("net_downhill", None, "", 0, 10000, -0.006, "the fall of the course", ""),
    ("downhill_race", None, "", 0, 10000, -0.016, "the descents of the course", ""),
)


@pytest.mark.parametrize(("kind", "of", "name", "from_m", "to_m", "grade", "km", "miles"), STRETCHES)
def test_the_stretch_that_a_session_answers_has_its_own_name_place_and_slope(
    kind: DemandKind,
    of: FeatureKind | None,
    name: str,
    from_m: float,
    to_m: float,
    grade: float,
    km: str,
    miles: str,
) -> None:
    """Where climbs and descents lie in a stretch its mean slope is nobody's; a whole course has no place."""
    gain_m = (to_m - from_m) * grade
    feature = None
    if of is not None:
        start_m = 1150.0 if kind == "early_hills" else from_m  # the first of several climbs
        feature = Feature(of, name, start_m, to_m, gain_m, 30.0, 5.0, 0.075, 0.09, 0.1, False, "")
    demand = Demand(kind, from_m, to_m, grade, gain_m, from_m / 10000, feature, "")
    assert say_in(demand_words(demand), "km") == km
    assert miles in say_in(demand_words(demand), "mi")
    assert "km" not in say_in(demand_words(demand), "mi")


def test_every_kind_of_demand_has_words() -> None:
    assert {row[0] for row in STRETCHES} == set(DEMAND_WORDS)
