"""What stands in a race plan: whose time it is, what is said, what is left out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planbuilder.course.types import Remark
from planbuilder.race import RacePlan, parse_conditions
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, MARK, say_in, say_time
from tests.race.ground import (
    course_of,
    feature,
    form_of,
    late_climb_half,
    plan_of,
    race_of,
    rolling_marathon,
    runner_of,
)

FLAT_HALF = course_of([(HALF_MARATHON_M, 0.0)])
FLAT_S = 6000.0


def rules(plan: RacePlan) -> list[str]:
    return [note.rule for note in plan.notes]


# Whose time plan A is: the goal where there is no result or the gap is at most 3 %, or where it is asked for.


def test_without_a_goal_plan_a_is_the_prediction_on_this_course() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features, flat_s=FLAT_S)
    assert plan.finish_time_s == pytest.approx(FLAT_S * plan.course_factor, abs=0.1)
    assert plan.goal.predicted_time_s == plan.finish_time_s
    assert plan.goal.verdict == "no goal"


def test_a_goal_within_three_per_cent_is_plan_a() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(goal_time="1:37:30"))
    assert plan.finish_time_s == 5850.0
    assert plan.goal.goal_for_sessions
    assert plan.goal.race_flat_s_per_km == pytest.approx(5850.0 / HALF_MARATHON_M * 1000, abs=0.01)


def test_a_goal_beyond_three_per_cent_gives_way_to_the_prediction_with_both_numbers() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(goal_time="1:36:30"))
    assert plan.finish_time_s == pytest.approx(FLAT_S, abs=0.1)
    assert plan.goal.goal_time_s == 5790.0
    assert not plan.goal.goal_for_sessions
    assert plan.goal.race_flat_s_per_km == pytest.approx(FLAT_S / HALF_MARATHON_M * 1000, abs=0.01)
    note = next(note for note in plan.notes if note.rule == "race.goal_for_sessions")
    assert note.kind == "given_up"
    assert note.text == (
        "The goal of 1:36:30 is 3.5 % quicker than form on this course, more than the 3 % up to which plan A "
        "follows it: plan A is 1:40:00."
    )


def test_plan_a_of_a_marathon_follows_a_goal_only_while_the_gap_is_small() -> None:
    """2 % (our choice; coaches plan race day from form beyond it until a tune-up says more)."""
    flat, flat_s = course_of([(MARATHON_M, 0.0)]), 4 * 3600.0
    near = plan_of(flat, flat_s=flat_s, runner=runner_of(goal_time="3:56:00"))
    assert near.finish_time_s == 3 * 3600 + 56 * 60
    far = plan_of(flat, flat_s=flat_s, runner=runner_of(goal_time="3:54:00"))
    assert far.finish_time_s == pytest.approx(flat_s, abs=0.1)
    assert not far.goal.goal_for_sessions
    assert "the race is planned from today's form" in far.goal.sentence
    note = next(note for note in far.notes if note.rule == "race.goal_for_marathon")
    assert "2.5 % quicker" in note.text
    assert "the 2 % up to which" in note.text


def test_no_quicker_goal_is_taken_up_from_a_climb_that_was_only_assumed() -> None:
    flat, flat_s, form = course_of([(MARATHON_M, 0.0)]), 4 * 3600.0, form_of(3.4)
    assert form.anchor is not None
    assumed = replace(form, anchor=replace(form.anchor, climb_assumed=True))
    quicker, slower = runner_of(goal_time="3:58:00"), runner_of(goal_time="4:05:00")
    assert plan_of(flat, flat_s=flat_s, form=form, runner=quicker).finish_time_s == 14280.0
    plan = plan_of(flat, flat_s=flat_s, form=assumed, runner=quicker)
    assert plan.finish_time_s == pytest.approx(flat_s, abs=0.1)
    assert any("only assumed" in note.text for note in plan.notes if note.rule == "race.goal_for_marathon")
    assert plan_of(flat, flat_s=flat_s, form=assumed, runner=slower).finish_time_s == 14700.0


def test_on_a_climb_the_clock_lies_inside_the_band() -> None:
    """With the margin of level ground on each side at least."""
    for metres, margin in ((MARATHON_M, 0.03), (HALF_MARATHON_M, 0.02)):
        plan = plan_of(course_of([(metres / 2, 0.03), (metres / 2, -0.03)]), flat_s=metres * 0.3)
        climb = plan.splits_km[5]
        pace = climb.pace_s_per_km or 0.0
        assert 0 < (climb.pace_low_s_per_km or 0.0) <= pace * (1 - margin) + 1e-6
        assert (climb.pace_high_s_per_km or 0.0) >= pace * (1 + margin) - 1e-6


def test_a_goal_that_is_asked_for_is_plan_a_even_beyond_form() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, goal_time_s=5580.0)
    assert plan.finish_time_s == pytest.approx(5580.0, abs=0.1)
    assert not plan.goal.goal_for_sessions
    assert "race.goal_for_sessions" in rules(plan)


def test_a_goal_that_the_ceilings_forbid_becomes_the_fastest_time_they_allow() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, goal_time_s=3600.0)
    threshold = HALF_MARATHON_M / FLAT_S * 1.01
    least_s = HALF_MARATHON_M / threshold * (0.667 / 1.10 + 0.333 / 1.18)
    assert plan.finish_time_s == pytest.approx(least_s, abs=2)
    note = next(note for note in plan.notes if note.rule == "race.effort_ceiling")
    assert note.text.startswith("1:00:00 would ask for more than the effort ceilings allow")


def test_without_a_result_the_goal_is_plan_a_but_no_faster_than_the_best_road_runners() -> None:
    plan = plan_of(FLAT_HALF, flat_s=None, runner=runner_of(goal_time="1:45:00"))
    assert plan.finish_time_s == 6300.0
    assert plan.goal.verdict == "no form"
    assert plan.goal.race_flat_s_per_km is None
    record = plan_of(FLAT_HALF, flat_s=None, runner=runner_of(goal_time="40:00"))
    assert record.finish_time_s == pytest.approx(HALF_MARATHON_M / 6.5, abs=0.1)


def test_without_result_and_goal_there_is_a_plan_by_effort_without_a_clock() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features, flat_s=None)
    assert plan.finish_time_s is None
    for row in (*plan.features, *plan.splits_km, *plan.splits_mi, *plan.splits_5k):
        assert row.time_s is None
        assert row.pace_s_per_km is None
        assert row.by_effort
        assert row.cue
    assert [outcome.time_s for outcome in plan.outcomes] == [None, None, None]
    assert all(point.clock_a_s is None for point in plan.decisions)
    assert plan.intakes
    assert all(intake.clock_s is None for intake in plan.intakes)
    assert plan.strategy_costs == ()


def test_a_stale_result_predicts_but_no_session_runs_at_goal_pace() -> None:
    plan = plan_of(
        FLAT_HALF, flat_s=FLAT_S, form=form_of(3.5, stale=True), runner=runner_of(goal_time="1:39:30")
    )
    assert plan.finish_time_s == 5970.0
    assert not plan.goal.goal_for_sessions
    assert plan.goal.race_flat_s_per_km is None


def test_a_goal_that_nobody_runs_is_taken_for_a_slip() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, goal_time_s=10.0)
    assert "0:10 is quicker than the best road runners: please look at the figure." in plan.goal.sentence
    assert "later one" not in plan.goal.sentence


def test_a_goal_far_slower_than_form_says_that_the_efforts_belong_to_a_race() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, goal_time_s=36000.0)
    assert plan.finish_time_s == pytest.approx(36000.0, abs=0.1)
    note = next(note for note in plan.notes if note.rule == "race.far_slower")
    assert note.text.startswith("10:00:00 is 500 % slower than form points to.")
    near = plan_of(FLAT_HALF, flat_s=FLAT_S, goal_time_s=6500.0)
    assert "race.far_slower" not in rules(near)


@pytest.mark.parametrize(
    ("strategy", "words"),
    [("even effort", "an even effort"), ("hold back", "held back"), ("pace group", "an even clock")],
)
def test_plan_a_is_told_as_it_is_run(strategy: str, words: str) -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(strategy=strategy))
    assert plan.outcomes[0].words.startswith(words)


# Ground and rows.


def test_features_cover_the_race_from_start_to_line_with_their_own_words() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features)
    assert [row.name for row in plan.features] == [
        "downhill start",
        "climb 1",
        "descent 1",
        "the long flat",
        "climb 2",
        "descent 2",
        "finish drag",
    ]
    assert plan.features[0].from_m == 0
    assert plan.features[-1].to_m == HALF_MARATHON_M
    assert plan.features[4].ground == "A climb"


def test_a_split_stands_at_every_kilometre_mile_and_five_kilometres_and_at_the_line() -> None:
    plan = plan_of(FLAT_HALF)
    assert [row.to_m for row in plan.splits_km] == [*(1000.0 * i for i in range(1, 22)), HALF_MARATHON_M]
    assert [row.name for row in plan.splits_km[-2:]] == ["km 21", "to the line"]
    assert len(plan.splits_mi) == 14
    assert [row.name for row in plan.splits_5k] == [
        "0 to 5 km",
        "5 to 10 km",
        "10 to 15 km",
        "15 to 20 km",
        "to the line",
    ]
    ten = plan_of(course_of([(10000.0, 0.0)]))
    assert [row.to_m for row in ten.splits_5k] == [5000.0, 10000.0]
    assert ten.splits_km[-1].name == "km 10"


def test_an_uphill_band_reaches_from_the_treadmill_response_to_the_ratio_of_energy_costs() -> None:
    # Davies 1980 (second-hand): 3.3 % per 1 %; Minetti 2002: C(0.04) / C(0) = 1.2365.
    course = course_of([(8000.0, 0.0), (2000.0, 0.04)])
    plan = plan_of(course, flat_s=2400.0)
    last = plan.splits_km[-1]
    flat_pace = plan.splits_km[4].pace_s_per_km or 0.0
    assert last.by_effort
    assert last.pace_s_per_km == pytest.approx(flat_pace * 1.132, abs=0.1)
    assert last.pace_low_s_per_km == pytest.approx(flat_pace * 1.132 * 0.98, abs=0.1)  # the margin, ours
    assert last.pace_high_s_per_km == pytest.approx(flat_pace * 1.2365, abs=0.1)


def test_a_pace_is_led_by_effort_only_where_it_is_steeper_than_one_and_a_half_per_cent() -> None:
    course = course_of([(5000.0, 0.014), (5000.0, 0.016), (5000.0, -0.016)])
    plan = plan_of(course, flat_s=4000.0)
    assert [row.by_effort for row in plan.splits_5k] == [False, True, True]


def test_a_course_that_is_not_known_gets_four_stretches_by_effort_and_a_note() -> None:
    course = course_of([(HALF_MARATHON_M, 0.0)], known=False)
    plan = plan_of(course)
    assert len(plan.features) == 4
    assert plan.features[-1].to_m == HALF_MARATHON_M
    assert plan.features[0].ground == "not known: run by effort"
    assert "race.course" in rules(plan)


def test_the_words_of_the_coach_stand_in_the_stretch_they_belong_to() -> None:
    course, features = late_climb_half()
    remarks = (Remark(8900.0, "The canal bridge, look up.", False), Remark(10000.0, "water", True))
    race = race_of(HALF_MARATHON_M, wording=[{"of": "km 12", "text": "The straight that never ends"}])
    plan = plan_of(course, features=features, remarks=remarks, race=race)
    assert plan.splits_km[8].cue.endswith("The canal bridge, look up")
    assert plan.features[3].cue.endswith("The canal bridge, look up")
    assert sum("canal" in row.cue for row in plan.splits_km) == 1
    assert plan.splits_km[11].ground == "The straight that never ends"
    assert not any("water" in row.cue for row in plan.splits_km)


def test_a_downhill_start_is_run_easier_than_the_ladder() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features)
    assert plan.splits_mi[0].effort_rpe == (5.0, 5.0)
    assert plan.splits_mi[1].effort_rpe[1] >= 6.0
    assert "shorten the step" in plan.first_minutes


# A, B, C and the checks.


def test_plan_b_is_current_form_where_plan_a_asks_for_more() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(goal_time="1:37:30"))
    assert [outcome.name for outcome in plan.outcomes] == ["A", "B", "C"]
    assert plan.outcomes[0].time_s == 5850.0
    assert plan.outcomes[1].time_s == pytest.approx(FLAT_S, abs=0.1)
    assert plan.outcomes[2].time_s is None
    assert say_in(plan.outcomes[1].words, "km").startswith("good racing on an ordinary day, about 4:44/km")


@pytest.mark.parametrize("goal", ["1:37:30", "1:40:00", None])
def test_after_lost_weeks_plan_a_is_what_plan_b_was_and_the_goal_waits(goal: str | None) -> None:
    """No figure is known for a half; one step back is our choice within common practice."""
    runner = runner_of() if goal is None else runner_of(goal_time=goal)
    before, after = (plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner, days_lost=days) for days in (0, 21))
    assert after.finish_time_s == pytest.approx(before.outcomes[1].time_s, abs=0.1)
    assert (after.finish_time_s or 0) >= (before.goal.predicted_time_s or 0)
    assert (after.outcomes[1].time_s or 0) > (after.finish_time_s or 0)
    assert "before 21 days without running" in after.goal.sentence
    assert "within" not in after.goal.sentence
    assert any("plan A is what plan B was" in note.text for note in after.notes)
    assert after.goal.race_flat_s_per_km == before.goal.race_flat_s_per_km, "paces of sessions stay"


def test_after_lost_weeks_a_slower_goal_and_one_that_is_asked_for_stay() -> None:
    slow = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(goal_time="2:00:00"), days_lost=21)
    assert slow.finish_time_s == 7200.0
    asked = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(), goal_time_s=5850.0, days_lost=21)
    assert asked.finish_time_s == 5850.0


def test_slower_form_never_makes_plan_b_quicker() -> None:
    times = [
        plan_of(FLAT_HALF, flat_s=FLAT_S * slower, runner=runner_of(goal_time="1:40:00")).outcomes[1].time_s
        for slower in (1.0, 1.004, 1.006, 1.01, 1.02, 1.025)
    ]
    assert None not in times
    assert times == sorted(times, key=lambda time_s: time_s or 0.0)


def test_every_named_piece_of_ground_has_its_cue() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features)
    cues = {row.name: row.cue for row in plan.features}
    for one in features:
        assert cues[one.name]
    assert "This is the one" in cues["climb 2"]
    assert "decisive climb" in plan.splits_km[16].cue
    assert any("settle" in row.cue for row in plan.splits_km[:4])


def test_level_ground_late_in_the_race_is_work_and_not_a_rest() -> None:
    course = course_of([(10000.0, 0.0)])
    flats = [feature(course, "flat", at, at + 3000.0, name=f"flat {at:.0f}") for at in (2000.0, 7000.0)]
    cues = {row.name: row.cue for row in plan_of(course, features=flats, flat_s=2600.0).features}
    assert cues["flat 2000"].startswith("Find the rhythm")
    assert cues["flat 7000"].startswith("Now it is work")


def test_the_first_race_at_a_distance_puts_finishing_first_and_gives_plan_b_three_per_cent() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(first_at_distance=True))
    assert plan.outcomes[1].time_s == pytest.approx(FLAT_S * 1.03, abs=0.1)
    assert plan.outcomes[2].words.startswith("This one comes first this time")
    assert "run it to finish well" in plan.goal.sentence


@pytest.mark.parametrize(
    ("distance_m", "places"),
    [
        (10000.0, [3000, 7000]),
        (HALF_MARATHON_M, [5000, 10000, 15000]),
        (MARATHON_M, [10000, 21000, 30000]),
    ],
)
def test_a_runner_checks_at_the_usual_places(distance_m: float, places: list[float]) -> None:
    plan = plan_of(course_of([(distance_m, 0.0)]), flat_s=distance_m / 3.5)
    assert [point.at_m for point in plan.decisions] == pytest.approx(places)
    for point in plan.decisions:
        assert point.clock_a_s is not None
        assert point.clock_b_s is not None
        assert point.clock_a_s < point.clock_b_s


def test_checks_stand_at_the_markers_of_the_road() -> None:
    race = race_of(HALF_MARATHON_M, markers="mi")
    places = [point.at_m / 1609.344 for point in plan_of(FLAT_HALF, race=race).decisions]
    assert places == pytest.approx([3, 6, 9])


def test_an_even_clock_costs_more_than_holding_back_and_both_more_than_even_effort() -> None:
    course, features = late_climb_half()
    costs = {name: seconds for name, seconds, _ in plan_of(course, features=features).strategy_costs}
    assert costs["even effort"] == 0
    assert 0 < costs["hold back"] < costs["pace group"]


def test_the_strategy_changes_the_splits_and_not_the_time() -> None:
    course, features = late_climb_half()
    even = plan_of(course, features=features)
    back = plan_of(course, features=features, runner=runner_of(strategy="hold back"))
    group = plan_of(course, features=features, runner=runner_of(strategy="pace group"))
    assert even.finish_time_s == back.finish_time_s == group.finish_time_s
    assert (back.splits_km[4].time_s or 0) > (even.splits_km[4].time_s or 0) + 2
    paces = [row.pace_s_per_km or 0.0 for row in group.splits_km]
    assert max(paces) - min(paces) < 0.01


# The day.


def test_a_warm_day_adds_seconds_with_a_reason() -> None:
    cool = plan_of(FLAT_HALF, flat_s=FLAT_S)
    warm = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("20C 50%"))
    heat = warm.adjustments[0]
    assert heat.kind == "heat"
    assert warm.finish_time_s == pytest.approx((cool.finish_time_s or 0.0) + heat.seconds, abs=0.1)
    assert "Ely et al. 2007" in heat.why
    assert 30 < heat.seconds < 120


def test_goal_and_prediction_are_compared_on_the_same_day() -> None:
    runner = runner_of(goal_time="1:40:00")
    cool = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner)
    warm = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner, conditions=parse_conditions("20C 50%"))
    assert cool.goal.gap == pytest.approx(0.0, abs=1e-9)
    assert (warm.goal.gap or 0.0) > 0.005


def test_heat_and_altitude_add_up_to_the_difference() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("20C 50% 1500 m 3 m/s head wind"))
    assert [one.kind for one in plan.adjustments] == ["wind", "heat", "altitude"]
    assert plan.finish_time_s == pytest.approx(FLAT_S + sum(one.seconds for one in plan.adjustments), abs=0.1)
    # Péronnet et al. 1991: 0.9677 of the power is left at 1500 m.
    before = FLAT_S + plan.adjustments[0].seconds + plan.adjustments[1].seconds
    assert plan.adjustments[2].seconds == pytest.approx(before * (1 / 0.9677 - 1), abs=2)


def test_from_23_degrees_there_is_no_time_goal_but_a_caution_and_less_effort() -> None:
    # 25 °C and 70 %: 26.8 °C wet-bulb globe temperature (Bureau of Meteorology form).
    hot = plan_of(FLAT_HALF, flat_s=FLAT_S, goal_time_s=6000.0, conditions=parse_conditions("25C 70%"))
    assert hot.finish_time_s is None
    assert all(row.pace_s_per_km is None for row in hot.splits_km)
    assert hot.splits_km[6].effort_rpe == (5.0, 6.0)
    note = next(note for note in hot.notes if note.rule == "race.heat_no_goal")
    assert note.kind == "caution"
    assert "local emergency number" in note.text
    assert hot.goal.predicted_time_s == pytest.approx(FLAT_S, abs=0.1)
    assert hot.goal.sentence.startswith("In the heat that is expected there is no time goal.")
    assert hot.outcomes[0].words.startswith("home in good shape")
    assert hot.adjustments == ()


def test_from_28_degrees_the_plan_advises_against_racing() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("31C 65%"))
    assert plan.finish_time_s is None
    assert "our advice is not to race" in next(n.text for n in plan.notes if n.rule == "race.heat_stop")


def test_on_a_day_without_a_time_goal_nothing_is_spent_and_nobody_is_told_to_empty_it() -> None:
    course, features = late_climb_half()
    hot = plan_of(course, features=features, conditions=parse_conditions("25C 70%"))
    said = [row.cue for row in (*hot.features, *hot.splits_km)] + list(hot.cues)
    said += [point.words for point in hot.decisions]
    assert max(row.effort_rpe[1] for row in hot.splits_km if row.grade < 0.015) <= 8
    for word in ("empty", "nothing to save", "all of it", "spend", "race begins"):
        assert not any(word in text.lower() for text in said), word
    assert "walk" in hot.splits_km[-3].cue.lower() or "landmark" in hot.splits_km[-3].cue
    assert any("stop, find shade" in point.words for point in hot.decisions)
    assert all("walk until it feels easier" in point.words for point in hot.decisions)
    assert not any("from A to B" in point.words for point in hot.decisions)  # both are without a clock


def test_plan_a_of_a_day_too_dangerous_to_race_is_not_to_start() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("31C 65%"))
    assert plan.outcomes[0].words.startswith("not starting")
    assert plan.goal.sentence.startswith("In the heat that is expected our advice is not to race.")


def day_note(plan: RacePlan) -> str:
    return next(note.text for note in plan.notes if note.rule == "race.conditions")


def test_times_that_allow_for_the_day_say_so() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("20C 50%"))
    assert day_note(plan).endswith("The prediction and the times of plans A and B allow for it.")
    assert "this course on the expected day" in plan.goal.sentence


def test_a_plan_a_that_stays_the_goal_says_that_the_day_is_not_in_it() -> None:
    """The goal is kept, the prediction and plan B are slower for the heat, and the cool worth of the goal
    stands beside it."""
    warm = parse_conditions("20C 50%")
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, runner=runner_of(goal_time="1:39:00"), conditions=warm)
    heat_s = plan.adjustments[0].seconds
    assert plan.finish_time_s == 5940.0
    assert plan.outcomes[1].time_s == pytest.approx(FLAT_S + heat_s, abs=60)
    assert (plan.outcomes[1].time_s or 0) >= FLAT_S + heat_s
    worth_s = 5940.0 / (1 + heat_s / FLAT_S)
    assert "Plan A does not: 1:39:00 on this day asks for the effort of about" in day_note(plan)
    assert say_time(worth_s) in day_note(plan)


def test_without_a_result_no_time_pretends_to_allow_for_the_day() -> None:
    warm = parse_conditions("20C 50%")
    plan = plan_of(FLAT_HALF, flat_s=None, runner=runner_of(goal_time="1:40:00"), conditions=warm)
    assert plan.finish_time_s == 6000.0
    assert plan.adjustments[0].seconds > 30
    assert "rest on your goal and do not allow for it" in day_note(plan)


def test_a_cool_day_is_not_spoken_of() -> None:
    plan = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("3C 50%"))
    assert "race.conditions" not in rules(plan)
    assert "expected day" not in plan.goal.sentence


def test_hard_cold_and_a_gale_are_cautions() -> None:
    cold = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("-20C"))
    text = next(note.text for note in cold.notes if note.rule == "race.cold_caution")
    assert text.startswith("At −20 °C cover hands, ears and face")
    assert "local emergency number" in text
    assert "no published figure" in cold.adjustments[0].why
    gale = plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("20 m/s head wind"))
    assert {"race.gale", "race.wind"} <= set(rules(gale))
    assert not {"race.gale", "race.wind"} & set(
        rules(plan_of(FLAT_HALF, flat_s=FLAT_S, conditions=parse_conditions("12 m/s head wind")))
    )


def test_conditions_of_the_block_are_used_where_none_are_given() -> None:
    race = race_of(HALF_MARATHON_M, conditions={"temperature": "20 C", "humidity": "50%"})
    assert plan_of(FLAT_HALF, race=race).adjustments[0].kind == "heat"


def test_a_race_beyond_every_published_equivalence_says_so_first() -> None:
    for distance_m, word in ((100_000.0, "long"), (300.0, "short")):
        plan = plan_of(course_of([(distance_m, 0.0)]), flat_s=distance_m / 4.0)
        note = next(note for note in plan.notes if note.rule == "race.reach")
        assert f"a race this {word}" in note.text
        assert note.kind == "caution"
    assert "race.reach" not in rules(plan_of(course_of([(MARATHON_M, 0.0)]), flat_s=12000.0))


def test_a_plan_past_the_closing_of_the_finish_says_so() -> None:
    plan = plan_of(FLAT_HALF, flat_s=10000.0, race=race_of(HALF_MARATHON_M, time_limit="2:30:00"))
    assert "race.time_limit" in rules(plan)


# Everything that is read.


def test_every_sentence_reads_in_kilometres_and_in_miles() -> None:
    course, features = late_climb_half()
    plan = plan_of(course, features=features, conditions=parse_conditions("20C 50% 1500 m"))
    texts = [
        *(text for row in (*plan.features, *plan.splits_km) for text in (row.ground, row.cue)),
        *(text for outcome in plan.outcomes for text in (outcome.words, outcome.cue)),
        *(point.words for point in plan.decisions),
        *(one.why for one in plan.adjustments),
        *(intake.words for intake in plan.intakes),
        *(line.words for line in plan.evening),
        *(note.text for note in plan.notes),
        *plan.cues,
        *plan.lay_out,
        plan.goal.sentence,
        plan.fuelling,
        plan.first_minutes,
    ]
    for text in texts:
        for system in ("km", "mi"):
            assert "{" not in say_in(text, system), text
    assert any(MARK.search(text) for text in texts)


def test_there_are_at_most_three_cues_and_the_do_not_start_list_is_always_there() -> None:
    for course, features in (late_climb_half(), (rolling_marathon(), ())):
        plan = plan_of(course, features=features, flat_s=12000.0)
        assert 1 <= len(plan.cues) <= 3
        assert any("fever" in line for line in plan.do_not_start)
        assert "licensed practitioner" in plan.do_not_start[-1]


def test_the_same_input_gives_the_same_plan() -> None:
    course, features = late_climb_half()
    assert plan_of(course, features=features) == plan_of(course, features=features)
