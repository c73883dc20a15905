"""Sessions written from the library: what a coach would check before handing one out.

Bounds come from common practice, no source, unless a source stands beside the check.
"""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any, get_args

import pytest

from planbuilder.demands.types import CourseDemands, Demand, DemandKind
from planbuilder.plan.types import Phase, Step
from planbuilder.plan.walk import grade_factor, measure, timeline
from planbuilder.rules.library import load_library
from planbuilder.rules.night_row import write_row
from planbuilder.rules.orders import Draft, MainSet, Order
from planbuilder.rules.parts import pace_of
from planbuilder.rules.typed_night import read_night
from planbuilder.rules.write_session import dose_range, fuelling, why_not, write_session
from planbuilder.runner.types import Band, Level, Paces
from planbuilder.settings.limits import default_limits
from planbuilder.settings.session_models import BandName
from planbuilder.units import HALF_MARATHON_M, MARATHON_M, MARK, say_in

LIBRARY = load_library()
LIMITS = default_limits()
LEVELS: tuple[Level, ...] = get_args(Level)
KINDS = LIBRARY.names
LONG = ("rolling", "hill_finish", "late_descent", "simulation", "long_goal")
HARD_KINDS = tuple(template.name for template in LIBRARY if template.counts_as == "hard")

# Speed as a share of threshold speed: middle of the bands that coaches use (common practice, no source).
SHARE: dict[BandName, float] = {
    "recovery": 0.72,
    "easy": 0.80,
    "long": 0.78,
    "steady": 0.885,
    "marathon effort": 0.90,
    "half-marathon effort": 0.95,
    "threshold": 0.99,
    "10 km effort": 1.03,
    "intervals": 1.075,
    "repetitions": 1.14,
    "strides": 1.16,
    "race effort": 0.96,
}


def make_paces(threshold_s_per_km: float = 300.0, *, by_effort: bool = False) -> Paces:
    def band(name: BandName, share: float) -> Band:
        pace = None if by_effort else threshold_s_per_km / share
        return Band(name, 2, 4, "", pace and pace * 0.98, pace and pace * 1.02, None, None, "")

    bands = tuple(band(name, share) for name, share in SHARE.items())
    return Paces(bands, "", threshold_s_per_km / 0.8)


def make_demand(kind: DemandKind, start_m: float, end_m: float, grade: float, race_m: float) -> Demand:
    gain_m = (end_m - start_m) * grade
    return Demand(kind, start_m, end_m, grade, gain_m, start_m / race_m, None, f"The course has a {kind}.")


def make_course(
    race_m: float = HALF_MARATHON_M, *, climb_m: float = 900, grade: float = 0.045
) -> CourseDemands:
    """Down at the start, flat in the middle, one climb at four fifths, a drag to the line."""
    demands = (
        make_demand("downhill_start", 0, min(1500, 0.1 * race_m), -0.02, race_m),
        make_demand("early_hills", 0.1 * race_m, 0.2 * race_m, 0.03, race_m),
        make_demand("rolling", 0.1 * race_m, 0.3 * race_m, 0.02, race_m),
        make_demand("long_flat", 0.3 * race_m, 0.75 * race_m, 0.0, race_m),
        make_demand("late_climb", 0.8 * race_m, 0.8 * race_m + climb_m, grade, race_m),
        make_demand("long_descent", 0.85 * race_m, 0.88 * race_m, -0.03, race_m),
        make_demand("finish_drag", 0.9 * race_m, 0.99 * race_m, 0.008, race_m),
    )
    return CourseDemands("rolling", "", 7.0, demands, None, None, climb_m * grade, race_m, 120.0)


HALF = make_course()


def make_order(kind: str, **changes: Any) -> Order:
    """A plain order for this kind: the demand it answers, a duration where it needs one."""
    template = LIBRARY.template(kind)
    course = changes.get("course", HALF)
    answered = next((demand for demand in course.demands if demand.kind in template.answers), None)
    settings: dict[str, Any] = {
        "kind": kind,
        "level": "intermediate",
        "phase": "specific" if "specific" in template.phases else template.phases[0],
        "paces": make_paces(),
        "course": HALF,
        "demand": answered,
        "duration_s": 5700.0 if template.shape in LONG else None,
        "race_distance_m": 10000.0 if kind == "tune_up" else None,
    }
    return Order(**{**settings, **changes})


def write(kind: str, **changes: Any) -> Draft:
    return write_session(make_order(kind, **changes), LIBRARY, LIMITS)


def every_case(kind: str) -> list[Order]:
    """This kind for every level and phase, with and without paces, on two courses, early and late."""
    template = LIBRARY.template(kind)
    courses = (HALF, make_course(10000.0, climb_m=350, grade=0.06))
    return [
        make_order(
            kind,
            level=level,
            phase=phase,
            paces=make_paces(330.0, by_effort=by_effort),
            course=course,
            occurrence=turn,
        )
        for level, phase, by_effort, course, turn in itertools.product(
            LEVELS, template.phases, (False, True), courses, (0, 3)
        )
    ]


def of_kind(steps: tuple[Step, ...], *kinds: str) -> list[Step]:
    return [step for step in steps if step.kind in kinds]


def all_words(draft: Draft) -> list[str]:
    words = [step.words for step in draft.steps] + [reason.text for reason in draft.reasons]
    return [*words, draft.purpose, draft.progression, draft.caution, draft.substitute, draft.fuelling]


# Every session --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_writes_a_session_whose_sums_agree_with_its_steps(kind: str) -> None:
    for order in every_case(kind):
        draft = write_session(order, LIBRARY, LIMITS)
        legs = timeline(draft.steps, easy_s_per_km=order.paces.easy_s_per_km)
        assert draft.steps
        assert draft.duration_s == pytest.approx(sum(leg.duration_s for leg in legs), abs=0.01)
        assert draft.distance_m == pytest.approx(sum(leg.distance_m for leg in legs), abs=0.1)
        assert draft.work_s == pytest.approx(sum(leg.duration_s for leg in legs if leg.is_work), abs=0.01)
        assert draft.hard_s == pytest.approx(sum(leg.duration_s for leg in legs if leg.is_hard), abs=0.01)
        assert draft.climb_m == pytest.approx(sum(leg.climb_m for leg in legs), abs=0.1)
        assert draft.work_s >= draft.hard_s >= 0


@pytest.mark.parametrize("kind", KINDS)
def test_every_step_has_one_size_an_effort_a_ground_and_words(kind: str) -> None:
    for order in every_case(kind):
        for step in write_session(order, LIBRARY, LIMITS).steps:
            assert (step.duration_s is None) != (step.distance_m is None)
            assert (step.duration_s or step.distance_m or 0) > 0
            assert step.repeat >= 1
            assert 0 < step.effort_rpe[0] <= step.effort_rpe[1] <= 10
            assert step.words
            assert step.words == step.words.strip()
            assert "  " not in step.words
            assert step.pace_s_per_km is None or step.band


@pytest.mark.parametrize("kind", KINDS)
def test_a_step_by_effort_knows_the_band_from_which_a_result_gives_it_the_pace_it_would_have(
    kind: str,
) -> None:
    for order in every_case(kind):
        for step in write_session(order, LIBRARY, LIMITS).steps:
            assert step.pace_s_per_km == pace_of(order, step.band, step.ground, LIMITS)
        without = write_session(replace(order, paces=make_paces(by_effort=True)), LIBRARY, LIMITS)
        assert all(step.pace_s_per_km is None for step in without.steps)
        found = {step.band for step in without.steps if pace_of(order, step.band, step.ground, LIMITS)}
        assert found == {
            step.band for step in write_session(order, LIBRARY, LIMITS).steps if step.pace_s_per_km
        }


@pytest.mark.parametrize("kind", HARD_KINDS)
def test_hard_kinds_warm_up_ten_minutes_and_cool_down_five(kind: str) -> None:
    for order in every_case(kind):
        draft = write_session(order, LIBRARY, LIMITS)
        assert draft.steps[0].kind == "warm_up"
        assert sum((step.duration_s or 0) for step in of_kind(draft.steps, "warm_up")) >= 600
        assert draft.steps[-1].kind == "cool_down"
        assert (draft.steps[-1].duration_s or 0) >= 300
        assert of_kind(draft.steps, "work")


@pytest.mark.parametrize("kind", HARD_KINDS)
def test_hard_kinds_keep_their_warm_up_in_a_short_evening(kind: str) -> None:
    for level in LEVELS:
        if LIBRARY.template(kind).shape in LONG:
            continue
        draft = write(kind, level=level, duration_s=2700.0)
        assert (draft.steps[0].duration_s or 0) >= 600
        assert (draft.steps[-1].duration_s or 0) >= 300


@pytest.mark.parametrize("kind", KINDS)
def test_no_pace_is_given_on_ground_steeper_than_one_and_a_half_percent(kind: str) -> None:
    for order in every_case(kind):
        for step in write_session(order, LIBRARY, LIMITS).steps:
            if abs(step.ground.grade or 0) > 0.015 or step.ground.kind in ("up", "down", "rolling"):
                assert step.pace_s_per_km is None


@pytest.mark.parametrize("kind", KINDS)
def test_training_by_effort_gives_no_pace_at_all(kind: str) -> None:
    draft = write(kind, paces=make_paces(by_effort=True))
    assert all(step.pace_s_per_km is None for step in draft.steps)


def test_flat_work_carries_the_band_of_the_runner_quick_end_first() -> None:
    paces = make_paces()
    for kind, name in (
        ("threshold_repeats", "threshold"),
        ("intervals", "intervals"),
        ("steady_run", "steady"),
    ):
        (work,) = of_kind(write(kind).steps, "work")
        band = next(band for band in paces.bands if band.name == name)
        assert work.pace_s_per_km == pytest.approx((band.fast_s_per_km, band.slow_s_per_km), abs=0.01)
        assert work.band == name


def test_a_gentle_drag_carries_the_flat_equivalent_of_race_pace() -> None:
    drag = next(step for step in write("race_simulation").steps if step.ground.kind == "drag")
    band = make_paces().band("race effort")
    assert drag.pace_s_per_km is not None
    assert band.fast_s_per_km is not None
    assert drag.pace_s_per_km[0] == pytest.approx(band.fast_s_per_km * grade_factor(0.008), abs=0.01)


def test_race_effort_is_run_at_the_predicted_pace_where_the_goal_is_out_of_reach() -> None:
    flat = HALF.first("long_flat")
    (work,) = of_kind(write("goal_repeats", demand=flat, goal_pace=False).steps, "work")
    band = make_paces().band("half-marathon effort")
    assert work.pace_s_per_km == pytest.approx((band.fast_s_per_km, band.slow_s_per_km), abs=0.01)


@pytest.mark.parametrize(
    ("race_m", "rpe"), [(5000.0, (8, 9)), (10000.0, (8, 8)), (HALF_MARATHON_M, (6, 7)), (42195.0, (5, 6))]
)
@pytest.mark.parametrize("line", ["race effort 4 x 5 min, 2 min jog", "goal_repeats", "12 min race effort"])
def test_race_effort_with_the_group_is_as_hard_as_the_race(
    race_m: float, rpe: tuple[float, float], line: str
) -> None:
    """RPE of the race's own middle third: common practice, no source. From 9 on the caution stands."""
    night = read_night(line, name="night", library=LIBRARY, limits=LIMITS)
    library = LIBRARY.with_kinds({"night": night.template})
    order = replace(make_order("goal_repeats", course=make_course(race_m)), kind="night", whistle=True)
    draft = write_session(order, library, LIMITS)
    assert {step.effort_rpe for step in of_kind(draft.steps, "work")} == {rpe}
    assert draft.main_set is not None
    assert night.template.repeat_seconds is not None
    assert draft.main_set.seconds == night.template.repeat_seconds.club[0]
    assert ("chest" in draft.caution) == (rpe[1] >= 9)


@pytest.mark.parametrize(
    ("kind", "title"), [("threshold_repeats", "Threshold run"), ("goal_repeats", "Race-effort run")]
)
def test_what_is_left_of_repeats_when_there_is_one_is_called_a_run(kind: str, title: str) -> None:
    night = read_night(kind, name="night", library=LIBRARY, limits=LIMITS)
    library = LIBRARY.with_kinds({"night": night.template})
    one_s = night.template.repeat_seconds.club[0] if night.template.repeat_seconds else 0.0
    order = replace(make_order(kind), kind="night", whistle=True, work_limit_s=1.5 * one_s)
    assert write_session(order, library, LIMITS).title == title
    assert write_session(replace(order, work_limit_s=None), library, LIMITS).title != title


def test_race_effort_in_a_row_of_different_stretches_is_as_hard_as_the_race() -> None:
    """A 10 km: RPE 8 (common practice, no source)."""
    line = "2 x 6 min race effort, 2 min jog + 4 x 1 min fast, 1 min"
    night = read_night(line, name="night", library=LIBRARY, limits=LIMITS)
    order = make_order("goal_repeats", course=make_course(10000.0), whistle=True, level="club")
    draft = write_row(order, night.row, LIBRARY, LIMITS, kind=night.base, fewest=0.3)
    assert draft is not None
    work = of_kind(draft.steps, "work")
    assert [step.effort_rpe for step in work if step.band == "race effort"] == [(8, 8)]


EASY_KINDS = (
    *("recovery_run", "easy_run", "group_easy", "long_run", "walk_run", "rolling_long_run"),
    "descent_long_run",
)


@pytest.mark.parametrize("kind", EASY_KINDS)
def test_easy_kinds_never_ask_for_more_than_four_out_of_ten(kind: str) -> None:
    for order in every_case(kind):
        draft = write_session(order, LIBRARY, LIMITS)
        assert max(step.effort_rpe[1] for step in draft.steps) <= 4
        assert draft.work_s == 0
        assert not draft.hard


def test_easy_days_say_easy() -> None:
    for kind in ("easy_run", "group_easy", "strides", "long_run"):
        assert any("easy" in step.words for step in write(kind).steps)


def test_strides_add_less_than_the_six_minutes_that_make_a_session_hard() -> None:
    for kind, level, turn in itertools.product(("strides", "hill_sprints", "shakeout"), LEVELS, range(6)):
        draft = write(kind, level=level, occurrence=turn)
        assert not draft.hard
        assert draft.work_s < 360


# Doses ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [t.name for t in LIBRARY if t.work_minutes is not None])
def test_the_main_part_lies_in_the_dose_range_of_its_level(kind: str) -> None:
    template = LIBRARY.template(kind)
    assert template.work_minutes is not None
    for order in every_case(kind):
        draft = write_session(order, LIBRARY, LIMITS)
        low, high = template.work_minutes.of(order.level)
        main_s = sum((step.duration_s or 0) * step.repeat for step in of_kind(draft.steps, "work"))
        assert main_s <= high * 60 + 1
        if template.shape in ("repeats", "continuous"):
            assert main_s >= low * 60 - 1


def test_a_small_late_gain_shortens_the_climbs_at_the_end_of_a_long_run() -> None:
    """Late climbing is guided by 120 % of what the last quarter of the race climbs (common practice)."""
    for late_gain_m in (45.0, 60.0, 90.0, 200.0):
        course = replace(HALF, late_gain_m=late_gain_m)
        for turn in range(3):
            draft = write("hill_finish_long_run", course=course, level="club", occurrence=turn)
            assert draft.main_set is not None
            if draft.main_set.repeats > 1:
                climb_m = sum(
                    leg.climb_m
                    for leg in timeline(draft.steps, easy_s_per_km=make_paces().easy_s_per_km)
                    if leg.ground.kind == "up"
                )
                assert climb_m <= 1.25 * late_gain_m


def test_the_dose_moves_the_work_from_the_low_to_the_high_end() -> None:
    for kind in ("long_hill_reps", "threshold_repeats", "intervals", "threshold_run"):
        small, large = write(kind, dose=0.0), write(kind, dose=1.0)
        assert large.work_s > small.work_s


def test_levels_are_dosed_in_order() -> None:
    for kind in ("long_hill_reps", "threshold_repeats", "intervals", "goal_repeats", "fartlek"):
        work = [write(kind, level=level, dose=0.5).work_s for level in ("novice", "intermediate", "club")]
        assert work == sorted(work)
        assert work[0] < work[2]


@pytest.mark.parametrize("kind", KINDS)
def test_a_week_with_room_for_the_smallest_dose_is_never_overdrawn(kind: str) -> None:
    for level in LEVELS:
        order = make_order(kind, level=level)
        smallest = dose_range(order, LIBRARY, LIMITS).min_work_s
        for spare_s in (0.0, 90.0, 400.0):
            draft = write_session(replace(order, work_limit_s=smallest + spare_s), LIBRARY, LIMITS)
            assert draft.work_s <= smallest + spare_s + 1


@pytest.mark.parametrize("kind", KINDS)
def test_a_day_with_room_for_the_smallest_session_is_never_overdrawn(kind: str) -> None:
    for level in LEVELS:
        order = make_order(kind, level=level)
        low_s = dose_range(replace(order, duration_s=None), LIBRARY, LIMITS).min_duration_s
        for spare_s in (0.0, 600.0, 1500.0):
            draft = write_session(replace(order, duration_s=low_s + spare_s), LIBRARY, LIMITS)
            if kind in ("tune_up", "test"):
                continue
            assert draft.duration_s <= low_s + spare_s + 1


@pytest.mark.parametrize("kind", KINDS)
def test_the_range_told_to_the_schedule_holds_what_is_written(kind: str) -> None:
    for level in LEVELS:
        order = make_order(kind, level=level)
        found = dose_range(order, LIBRARY, LIMITS)
        assert found.min_work_s <= found.max_work_s
        assert found.min_duration_s <= found.max_duration_s
        draft = write_session(replace(order, dose=0.5), LIBRARY, LIMITS)
        assert found.min_work_s - 1 <= draft.work_s <= found.max_work_s + 1


def test_race_effort_stays_within_its_share_of_the_race() -> None:
    """At most 100, 80, 45 and 35 % of the expected time (common practice, no source)."""
    for race_m, share in ((5000.0, 1.0), (10000.0, 0.8), (HALF_MARATHON_M, 0.45), (MARATHON_M, 0.35)):
        course = make_course(race_m, climb_m=300)
        for level in LEVELS:
            draft = write("goal_repeats", course=course, level=level, dose=1.0, race_time_s=race_m * 0.24)
            assert draft.main_set is not None
            assert draft.main_set.total_s <= share * race_m * 0.24 + 1


# Round numbers and progress -------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_repeats_and_recoveries_print_round(kind: str) -> None:
    for order in every_case(kind):
        for step in write_session(order, LIBRARY, LIMITS).steps:
            seconds = step.duration_s
            if step.kind == "recovery" and seconds is not None:
                assert seconds % (15 if seconds <= 90 else 30 if seconds < 300 else 60) == 0
            if step.kind == "work" and seconds is not None and seconds >= 120:
                assert seconds % 30 == 0


def test_long_runs_come_in_five_minutes_and_never_longer_than_ordered() -> None:
    for minutes in (61, 74.9, 97.3, 120):
        draft = write("long_run", duration_s=minutes * 60)
        assert draft.duration_s % 300 == 0
        assert 0 <= minutes * 60 - draft.duration_s < 300


REPEATED = tuple(t.name for t in LIBRARY if t.shape in ("repeats", "continuous") and t.name != "race_touch")


@pytest.mark.parametrize("kind", REPEATED)
@pytest.mark.parametrize("level", LEVELS)
def test_a_session_never_reads_like_the_last_one_of_its_kind(kind: str, level: Level) -> None:
    last: Draft | None = None
    for turn in range(6):
        draft = write(kind, level=level, occurrence=turn)
        if last is not None:
            assert [step.words for step in draft.steps] != [step.words for step in last.steps] or [
                step.repeat for step in draft.steps
            ] != [step.repeat for step in last.steps]
        last = draft


@pytest.mark.parametrize("kind", REPEATED)
@pytest.mark.parametrize("level", LEVELS)
def test_repeats_grow_in_number_or_in_length_never_in_both(kind: str, level: Level) -> None:
    previous: MainSet | None = None
    for turn in range(6):
        main = write(kind, level=level, occurrence=turn, previous=previous).main_set
        assert main is not None
        if previous is not None:
            assert not (main.repeats > previous.repeats and main.seconds > previous.seconds)
        previous = main


def test_the_last_main_set_is_named_beside_the_new_one() -> None:
    first = write("long_hill_reps")
    second = write("long_hill_reps", occurrence=1, previous=first.main_set)
    assert second.progression.startswith("Last time")
    assert " now " in second.progression


@pytest.mark.parametrize("kind", ["threshold_repeats", "intervals", "goal_repeats", "short_hill_reps"])
def test_a_single_repeat_is_not_told_to_be_like_the_others(kind: str) -> None:
    for occurrence in range(5):
        draft = write(kind, occurrence=occurrence, work_limit_s=400.0)
        (work,) = of_kind(draft.steps, "work")
        assert work.repeat > 1 or not set(work.words.split()) & {"each", "repeat", "one"}
        assert work.words


def test_walk_and_run_adds_at_most_a_fifth_each_time() -> None:
    last: float | None = None
    for turn in range(10):
        main = write("walk_run", occurrence=turn, duration_s=3600.0).main_set
        assert main is not None
        if last is not None:
            assert last <= main.total_s <= last * 1.2 + 1
        last = main.total_s


# The course -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("climb_m", [300, 500, 900, 1600, 3000])
@pytest.mark.parametrize("grade", [0.02, 0.045, 0.08, 0.11])
@pytest.mark.parametrize("level", LEVELS)
def test_hill_repeats_match_the_climb_of_the_course(climb_m: float, grade: float, level: Level) -> None:
    """50 to 120 % of a climb up to 6 min, else 4 to 6 min; grade within 1.5 points (common practice)."""
    course = make_course(climb_m=climb_m, grade=grade)
    draft = write("long_hill_reps", course=course, demand=course.first("late_climb"), level=level)
    band = make_paces().band("race effort")
    assert band.fast_s_per_km is not None
    assert band.slow_s_per_km is not None
    level_s_per_km = (band.fast_s_per_km + band.slow_s_per_km) / 2
    climb_s = climb_m / 1000 * level_s_per_km * grade_factor(grade)
    (work,) = of_kind(draft.steps, "work")
    assert work.duration_s is not None
    if climb_s <= 360:
        assert max(60, 0.5 * climb_s) <= work.duration_s <= max(60, 1.2 * climb_s)
    else:
        assert 240 <= work.duration_s <= 360
    assert work.ground.kind == "up"
    assert work.ground.grade == pytest.approx(grade, abs=0.015 + 1e-9)
    assert draft.rehearses_m == ((0.8 * HALF_MARATHON_M, 0.8 * HALF_MARATHON_M + climb_m),)
    assert draft.course_specific


def test_a_long_run_with_a_hill_finish_is_flat_first_and_climbs_after_two_thirds() -> None:
    for level, turn, minutes in itertools.product(LEVELS, range(4), (70, 95, 120, 150)):
        draft = write("hill_finish_long_run", level=level, occurrence=turn, duration_s=minutes * 60.0)
        legs = timeline(draft.steps, easy_s_per_km=make_paces().easy_s_per_km)
        first_climb = next(leg for leg in legs if (leg.ground.grade or 0) > 0.01)
        assert first_climb.start_s >= 0.65 * draft.duration_s
        assert all(abs(leg.ground.grade or 0) < 0.01 for leg in legs if leg.start_s < first_climb.start_s)
        assert draft.climbs_begin_share == pytest.approx(first_climb.start_s / draft.duration_s, abs=0.001)
        assert draft.duration_s == minutes * 60.0


def test_hill_finishes_grow_stronger_over_the_block() -> None:
    efforts = [
        max(
            step.effort_rpe[1] for step in write("hill_finish_long_run", phase="build", occurrence=turn).steps
        )
        for turn in range(3)
    ]
    assert efforts[0] == 5
    assert efforts[1] >= 6
    assert efforts[2] == 7


def test_a_simulation_runs_the_late_race_in_its_order_and_names_its_metres() -> None:
    draft = write("race_simulation", duration_s=6600.0)
    kinds = [step.ground.kind for step in draft.steps if step.kind in ("work", "recovery")]
    assert kinds == ["flat", "up", "down", "drag"]
    starts = [start for start, _ in draft.rehearses_m]
    assert starts == sorted(starts)
    climb = HALF.first("late_climb")
    assert climb is not None
    assert (climb.start_m, climb.end_m) in draft.rehearses_m
    assert all(0 <= start < end <= HALF_MARATHON_M for start, end in draft.rehearses_m)


@pytest.mark.parametrize(("race_m", "share"), [(10000.0, 1.0), (HALF_MARATHON_M, 0.85), (MARATHON_M, 0.7)])
def test_a_simulation_stays_below_its_share_of_the_race(race_m: float, share: float) -> None:
    course = make_course(race_m, climb_m=400)
    draft = write("race_simulation", course=course, level="club", duration_s=3 * 3600.0)
    assert draft.distance_m <= share * race_m
    assert max(step.effort_rpe[1] for step in draft.steps) <= 8


def test_a_simulation_climbs_all_of_a_long_climb_and_names_only_the_metres_that_it_climbs() -> None:
    """Repeats end at six minutes, a rehearsal does not (common practice, no source)."""
    course = make_course(climb_m=1900, grade=0.028)
    climb = course.first("late_climb")
    assert climb is not None
    for work_s, least_s, whole in ((3600.0, 540.0, True), (900.0, 300.0, False)):
        draft = write("race_simulation", course=course, level="club", work_limit_s=work_s)
        (up,) = (step for step in draft.steps if step.kind == "work" and step.ground.kind == "up")
        assert up.duration_s is not None
        assert up.duration_s >= least_s
        ((start_m, end_m),) = (metres for metres in draft.rehearses_m if metres[1] == climb.end_m)
        assert (start_m == climb.start_m) == whole
        race_s = up.duration_s / (end_m - start_m) * climb.length_m
        assert race_s == pytest.approx(
            600, rel=0.15
        )  # 1.9 km at 2.8 % and 5:15 on the level take ten minutes


def test_a_simulation_climbs_no_more_than_the_week_leaves() -> None:
    course = make_course(climb_m=1900, grade=0.028)
    for most_m in (30.0, 45.0):
        draft = write("race_simulation", course=course, level="club", climb_limit_m=most_m)
        assert 0.5 * most_m < draft.climb_m <= most_m


def test_a_simulation_before_a_marathon_is_a_long_run_with_marathon_effort() -> None:
    least = LIMITS.table("course_work.marathon_effort")
    for level in ("intermediate", "club"):
        course = make_course(MARATHON_M, climb_m=2500, grade=0.028)
        draft = write("race_simulation", course=course, level=level, duration_s=10200.0)
        assert draft.work_s >= least[level] * 60 - 60


def test_where_the_climb_comes_early_the_simulation_climbs_first() -> None:
    early = make_demand("late_climb", 2000, 2900, 0.05, HALF_MARATHON_M)
    course = replace(HALF, demands=(early, *[d for d in HALF.demands if d.kind == "finish_drag"]))
    draft = write("race_simulation", course=course, demand=early)
    grounds = [step.ground.kind for step in of_kind(draft.steps, "work")]
    assert grounds[0] == "up"
    assert grounds[-1] == "drag"


def test_a_rolling_long_run_climbs_about_as_much_per_kilometre_as_the_race() -> None:
    """Within 30 % (common practice, no source), at the middle of what levels can hold."""
    for minutes, per_km in ((90, 6.0), (110, 7.0), (120, 9.0)):
        course = replace(HALF, climb_m_per_km=per_km)
        draft = write("rolling_long_run", course=course, demand=None, duration_s=minutes * 60.0)
        assert draft.climb_m / (draft.distance_m / 1000) == pytest.approx(per_km, rel=0.3)


def test_a_rolling_long_run_names_a_loop_to_look_for_and_no_count_to_keep() -> None:
    draft = write("rolling_long_run", demand=None, duration_s=7200.0)
    (loop,) = (step for step in draft.steps if step.ground.kind == "rolling")
    assert loop.repeat == 1
    assert re.search(r"choose a loop with about \d+ rises of \d+ min", loop.words)
    assert sum(step.duration_s or 0 for step in draft.steps) == 7200
    machine = write("rolling_long_run", demand=None, duration_s=7200.0, hills=False, treadmill_grade=0.1,
                    treadmill_descent=0.03)  # fmt: skip
    assert any(step.repeat > 1 and step.ground.kind == "treadmill" for step in machine.steps)


@pytest.mark.parametrize("share", [0.6, 0.75, 0.9])
def test_a_rolling_long_run_has_shorter_rises_or_fewer_where_the_week_leaves_less(share: float) -> None:
    course = replace(HALF, climb_m_per_km=9.0)
    free = write("rolling_long_run", course=course, demand=None, duration_s=7200.0)
    held = write("rolling_long_run", course=course, demand=None, duration_s=7200.0,
                 climb_limit_m=free.climb_m * share)  # fmt: skip
    assert 0.8 * share * free.climb_m <= held.climb_m <= share * free.climb_m + 0.5
    assert held.duration_s == free.duration_s


def test_a_downhill_start_goes_down_within_its_length_and_straight_on() -> None:
    draft = write("downhill_start")
    down, on = of_kind(draft.steps, "work")
    assert down.ground.kind == "down"
    assert down.pace_s_per_km is None
    assert down.effort_rpe[1] <= 5
    assert 240 <= (on.duration_s or 0) <= 480
    assert draft.steps.index(on) == draft.steps.index(down) + 1
    assert draft.rehearses_m[0][0] == 0


@pytest.mark.parametrize(("minutes", "most_m"), [(75, None), (110, None), (150, None), (110, 20.0)])
def test_a_late_descent_stands_where_the_race_has_it_and_its_height_is_gained_before(
    minutes: int, most_m: float | None
) -> None:
    """Easy, the descent at race place: common practice, no source."""
    fall = make_demand("long_descent", 0.7 * HALF_MARATHON_M, 0.8 * HALF_MARATHON_M, -0.03, HALF_MARATHON_M)
    draft = write("descent_long_run", demand=fall, duration_s=minutes * 60.0, climb_limit_m=most_m)
    assert draft.duration_s == minutes * 60
    legs = timeline(draft.steps, easy_s_per_km=make_paces().easy_s_per_km)
    (down,) = (leg for leg in legs if leg.ground.kind == "down")
    assert down.start_s / draft.duration_s == pytest.approx(0.7, abs=0.03)
    assert 180 <= down.duration_s <= 900
    assert draft.climb_m == pytest.approx(down.distance_m * 0.03, rel=0.05)
    assert most_m is None or draft.climb_m <= most_m
    ((start_m, end_m),) = draft.rehearses_m
    assert start_m == fall.start_m
    assert end_m - start_m == pytest.approx(min(down.distance_m, fall.length_m))


def test_a_downhill_start_is_no_longer_than_the_descents_before_it_allow() -> None:
    slow = make_paces(480.0)
    for most_s in (180.0, 380.0, 480.0):
        draft = write("downhill_start", paces=slow, descent_limit_s=most_s)
        assert 0.9 * most_s <= draft.descent_work_s <= most_s
        ((start_m, end_m),) = draft.rehearses_m
        assert start_m < end_m


def test_the_first_descents_are_at_most_three_minutes_and_never_steeper_than_five_percent() -> None:
    for level in LEVELS:
        steep = make_demand("long_descent", 5000, 6500, -0.09, HALF_MARATHON_M)
        drafts = [
            write("controlled_downhill", level=level, demand=steep, occurrence=turn, previous=None)
            for turn in range(4)
        ]
        assert drafts[0].descent_work_s <= 180
        for before, after in itertools.pairwise(drafts):
            assert after.descent_work_s <= before.descent_work_s + 300
        for draft in drafts:
            assert draft.descent_work_s <= 900
            assert min(step.ground.grade or 0 for step in draft.steps) >= -0.05


def test_a_course_without_demands_makes_nothing_course_specific() -> None:
    plain = replace(HALF, demands=(), climb_m_per_km=1.0)
    for kind in KINDS:
        if kind != "rolling_long_run":
            draft = write(kind, course=plain, demand=None)
            assert not draft.course_specific, kind
            assert draft.rehearses_m == (), kind


# No hills near home ---------------------------------------------------------------------------------------

HILL_KINDS = ("short_hill_reps", "long_hill_reps", "hill_circuit", "uphill_tempo", "hill_finish_long_run")


@pytest.mark.parametrize("kind", HILL_KINDS)
def test_without_hills_a_treadmill_stands_in_named_with_the_same_minutes_and_effort(kind: str) -> None:
    outside = write(kind)
    inside = write(kind, hills=False, treadmill_grade=0.12)
    outside_work, inside_work = of_kind(outside.steps, "work")[0], of_kind(inside.steps, "work")[0]
    assert "treadmill" in inside.substitute
    assert inside_work.ground.kind == "treadmill"
    assert inside_work.ground.grade is not None
    assert outside_work.ground.grade is not None
    assert 0 <= inside_work.ground.grade - outside_work.ground.grade <= 0.01
    assert (inside_work.duration_s, inside_work.repeat, inside_work.effort_rpe) == (
        outside_work.duration_s,
        outside_work.repeat,
        outside_work.effort_rpe,
    )


@pytest.mark.parametrize("kind", HILL_KINDS)
def test_without_any_hill_the_flat_is_named_and_not_called_a_rehearsal(kind: str) -> None:
    draft = write(kind, hills=False)
    assert "unrehearsed" in draft.substitute
    assert not any((step.ground.grade or 0) > 0.01 for step in draft.steps)
    climb = HALF.first("late_climb")
    assert climb is not None
    assert (climb.start_m, climb.end_m) not in draft.rehearses_m


def test_bridges_and_ramps_come_before_the_treadmill() -> None:
    draft = write("long_hill_reps", hills=False, treadmill_grade=0.1, substitutes=("ramp", "bridge"))
    assert "bridge" in draft.substitute


@pytest.mark.parametrize("kind", KINDS)
def test_on_the_right_ground_nothing_is_substituted(kind: str) -> None:
    assert write(kind).substitute == ""


def test_a_run_with_strides_or_sprints_is_no_longer_than_was_asked_for() -> None:
    for kind, level, minutes in itertools.product(("strides", "hill_sprints"), LEVELS, range(30, 65, 5)):
        for turn in range(8):
            draft = write(kind, level=level, duration_s=minutes * 60.0, occurrence=turn)
            assert draft.duration_s <= minutes * 60 + 1, (kind, level, minutes, turn)


def test_hill_sprints_give_way_to_strides_where_there_is_no_hill() -> None:
    assert why_not(make_order("hill_sprints"), LIBRARY) == ""
    assert "needs a hill" in why_not(make_order("hill_sprints", hills=False, treadmill_grade=0.1), LIBRARY)
    assert LIBRARY.template("hill_sprints").instead == "strides"
    draft = write("hill_sprints", hills=False, substitutes=("bridge",))
    assert "bridge" in draft.substitute


def test_descents_are_not_ordered_where_there_is_no_slope() -> None:
    order = make_order("controlled_downhill", hills=False)
    assert why_not(make_order("controlled_downhill"), LIBRARY) == ""
    assert "slope" in why_not(order, LIBRARY)
    with pytest.raises(ValueError, match="needs a slope"):
        write_session(order, LIBRARY, LIMITS)


# Bodies ---------------------------------------------------------------------------------------------------


def test_a_runner_who_leaves_out_climbs_gets_none_in_any_session() -> None:
    banned = frozenset({"uphill", "fast", "hops", "all_out"})
    written = 0
    for kind in KINDS:
        order = make_order(kind, banned=banned)
        if why_not(order, LIBRARY):
            continue
        draft = write_session(order, LIBRARY, LIMITS)
        written += 1
        assert all((step.ground.grade or 0) <= 0.01 for step in draft.steps), kind
        assert not of_kind(draft.steps, "strides"), kind
        assert not any("hop" in step.words or "skips" in step.words for step in draft.steps), kind
    assert written > 12


def test_a_runner_who_leaves_out_descents_walks_down_after_climbs() -> None:
    for kind in KINDS:
        order = make_order(kind, banned=frozenset({"downhill"}))
        if why_not(order, LIBRARY):
            continue
        draft = write_session(order, LIBRARY, LIMITS)
        assert not any(step.ground.kind == "down" for step in draft.steps), kind
        assert draft.descent_work_s == 0


def test_a_kind_that_is_ruled_out_is_refused_with_its_reason() -> None:
    with pytest.raises(ValueError, match="needs climbs"):
        write("long_hill_reps", banned=frozenset({"uphill"}))
    with pytest.raises(ValueError, match="all-out running"):
        write("test", banned=frozenset({"all_out"}))


def test_hops_come_late_and_never_for_minors_novices_or_sore_legs() -> None:
    def hops(**changes: Any) -> bool:
        return any("hops" in step.words for step in write("strength", **changes).steps)

    assert hops(level="club", occurrence=6)
    assert not hops(level="club", occurrence=0)
    assert not hops(level="novice", occurrence=6)
    assert not hops(level="club", occurrence=6, minor=True)
    assert not hops(level="club", occurrence=6, banned=frozenset({"hops"}))


def test_strength_sends_runners_to_a_qualified_person() -> None:
    draft = write("strength")
    assert "qualified person" in draft.caution
    assert draft.distance_m == 0
    assert draft.work_s == 0


def test_descents_and_all_out_running_carry_a_caution() -> None:
    for kind in ("controlled_downhill", "downhill_start", "threshold_on_grade"):
        assert "daylight" in write(kind).caution
    for kind in ("test", "intervals", "tune_up"):
        assert "chest" in write(kind).caution


def test_food_and_drink_follow_the_length_of_the_run_and_drinking_is_to_thirst() -> None:
    """0-30, 30-60 and up to 60 g an hour: Jeukendrup 2014, Sports Med 44 Suppl 1:S25. Drinking to thirst:
    Hew-Butler et al. 2015, Clin J Sport Med 25:303."""
    eat = partial(fuelling, limits=LIMITS, race_fuel=None, race_m=HALF_MARATHON_M)
    assert eat(74 * 60) == ""
    assert "to thirst" in eat(75 * 60)
    assert "carbohydrate" not in eat(89 * 60)
    assert "up to 30 g" in eat(100 * 60)
    assert "30 to 60 g" in eat(130 * 60)
    assert "60 g" in eat(170 * 60)
    for minutes in range(75, 215, 5):
        text = eat(minutes * 60)
        assert "to thirst" in text
        assert " ml" not in text


@pytest.mark.parametrize(
    ("minutes", "race_m", "race_fuel", "says", "says_not"),
    [
        (
            100,
            HALF_MARATHON_M,
            (30, 45),
            ["up to 30 g", "will be 30 to 45 g", "at least 2"],
            "what",
        ),
        (130, HALF_MARATHON_M, (30, 45), ["what you will eat on race day: 30 to 45 g"], "at least"),
        (100, MARATHON_M, (45, 60), ["up to 30 g", "race day it will be 45 to 60 g", "at least 3"], "what"),
        (160, MARATHON_M, (45, 60), ["what you will eat on race day: 45 to 60 g"], "at least"),
        (100, 10_000.0, (0, 30), ["what you will eat on race day: up to 30 g"], "enough"),
        (130, 10_000.0, (0, 30), ["30 to 60 g", "race day it will be up to 30 g"], "at least"),
        (100, 10_000.0, (0, 0), ["up to 30 g", "the race itself is short enough to need none"], "race day"),
        (100, 10_000.0, None, ["up to 30 g"], "race"),
    ],
)
def test_the_amount_of_race_day_is_the_one_that_is_practised(
    minutes: int, race_m: float, race_fuel: tuple[float, float] | None, says: list[str], says_not: str
) -> None:
    """Two long runs with what is eaten on the day, three before a marathon: common practice, no source."""
    text = fuelling(minutes * 60, LIMITS, race_fuel=race_fuel, race_m=race_m)
    assert all(words in text for words in says), text
    assert says_not not in text


# Words and units ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_miles_change_no_metre_and_no_second(kind: str) -> None:
    assert write(kind, units="mi") == write(kind, units="km")


@pytest.mark.parametrize("kind", KINDS)
def test_sentences_hold_no_raw_distances_and_no_health_words(kind: str) -> None:
    draft = write(kind)
    for text in all_words(draft):
        bare = MARK.sub("", text)
        assert " km" not in bare.replace("5 km time", ""), text
        assert " mi " not in bare, text
        assert "{" not in say_in(text, "mi")
        assert "injur" not in text.lower(), text


@pytest.mark.parametrize("kind", KINDS)
def test_every_session_says_its_phase_and_its_dose(kind: str) -> None:
    kinds = [reason.kind for reason in write(kind).reasons]
    assert "phase" in kinds
    assert "number" in kinds


def test_course_work_says_that_it_is_common_practice_without_trials() -> None:
    for kind in ("long_hill_reps", "hill_finish_long_run", "race_simulation"):
        assert any("no trial shows" in reason.text for reason in write(kind).reasons)


def test_an_easy_tune_up_is_not_hard_and_a_raced_one_is() -> None:
    assert write("tune_up").hard
    assert not write("tune_up", race_effort_rpe=(3.0, 4.0)).hard


@pytest.mark.parametrize("kind", ["long_hill_reps", "threshold_repeats", "intervals", "goal_repeats"])
def test_work_and_recovery_alternate_between_warm_up_and_cool_down(kind: str) -> None:
    draft = write(kind)
    assert draft.main_set is not None
    count = draft.main_set.repeats
    strides = sum(step.repeat for step in of_kind(draft.steps, "strides"))
    expected = ["warm_up", "drills", *["strides", "recovery"] * strides, *["work", "recovery"] * (count - 1)]
    assert [leg.kind for leg in timeline(draft.steps)] == [*expected, "work", "cool_down"]


def test_up_and_down_repeats_take_turns() -> None:
    draft = write("threshold_on_grade", demand=HALF.first("rolling"), level="club")
    ground = [leg.ground.kind for leg in timeline(draft.steps) if leg.kind == "work"]
    assert ground == (["up", "down"] * len(ground))[: len(ground)]
    assert (
        min(step.ground.grade or 0 for step in draft.steps) > -0.01
    )  # so that it asks for no descents before
    assert draft.descent_work_s == 0


def test_race_effort_on_rolling_ground_has_no_pace_and_climbs_as_the_race_does() -> None:
    draft = write("goal_repeats", demand=HALF.first("rolling"))
    (work,) = of_kind(draft.steps, "work")
    assert work.ground.kind == "rolling"
    assert work.pace_s_per_km is None
    assert draft.course_specific
    run_m = sum(leg.distance_m for leg in timeline(draft.steps) if leg.kind == "work")
    climb_m = sum(leg.climb_m for leg in timeline(draft.steps))
    assert climb_m / (run_m / 1000) == pytest.approx(HALF.climb_m_per_km, rel=0.01)


def test_every_second_long_run_with_race_effort_keeps_to_level_ground_before_a_rolling_race() -> None:
    rolling = replace(HALF, demands=tuple(one for one in HALF.demands if one.kind != "long_flat"))
    grounds = [
        of_kind(write("long_run_goal_effort", course=rolling, demand=None, occurrence=turn).steps, "work")
        for turn in range(4)
    ]
    assert [steps[0].ground.kind for steps in grounds] == ["flat", "rolling"] * 2


def test_hill_circuits_hold_a_climb_as_long_as_half_of_the_one_they_answer() -> None:
    course = make_course(climb_m=750, grade=0.03)
    climb = course.first("late_climb")
    assert climb is not None
    race_s = climb.length_m / 1000 * 300 / SHARE["race effort"] * grade_factor(0.03)
    for turn in range(3):
        draft = write("hill_circuit", course=course, demand=climb, level="club", occurrence=turn)
        assert draft.main_set is not None
        assert draft.main_set.seconds >= 0.5 * race_s


def test_two_late_climbs_of_a_hilly_course_stand_beyond_its_late_gain() -> None:
    """The late gain guides and is no limit; two climbs match the decisive one: our choice."""
    climbs = {}
    for name in ("rolling", "hilly", "very hilly"):
        course = replace(make_course(climb_m=900, grade=0.06), course_class=name, late_gain_m=40.0)
        draft = write("hill_finish_long_run", course=course, level="club", occurrence=1, duration_s=7200.0)
        climbs[name] = sum(
            step.repeat for step in draft.steps if step.kind == "work" and step.ground.kind == "up"
        )
    assert climbs == {"rolling": 1, "hilly": 2, "very hilly": 2}


def test_measuring_a_draft_again_gives_the_same_sums() -> None:
    draft = write("race_simulation")
    found = measure(draft.steps, easy_s_per_km=make_paces().easy_s_per_km)
    assert found.distance_m == pytest.approx(draft.distance_m, abs=0.1)


def test_phases_are_those_of_the_plan() -> None:
    for template in LIBRARY:
        assert set(template.phases) <= set(get_args(Phase))


def test_a_session_of_the_coachs_own_is_written_like_any_other(tmp_path: Path) -> None:
    path = tmp_path / "sessions.toml"
    path.write_text(
        """
[canal_repeats]
title = "Canal repeats"
purpose = "Keeps the whole club together on the towpath."
shape = "repeats"
phases = ["base", "build"]
counts_as = "hard"
band = "threshold"
effort = [6, 7]
ground = "flat"
work_minutes = { novice = [9, 12], intermediate = [15, 24], club = [24, 36] }
repeats = { novice = [3, 4], intermediate = [5, 8], club = [8, 12] }
repeat_seconds = { novice = [180, 180], intermediate = [180, 180], club = [180, 180] }
recovery_seconds = [60, 90]
warm_up = "standard"
cool_down = "standard"
doing = "along the canal"
cue = "all together"
""",
        encoding="utf-8",
    )
    order = replace(make_order("threshold_repeats"), kind="canal_repeats", phase="base", dose=1.0)
    draft = write_session(order, load_library(path), LIMITS)
    (work,) = of_kind(draft.steps, "work")
    assert draft.title == "Canal repeats"
    assert (work.repeat, work.duration_s) == (8, 180.0)
    assert work.words == "3 min along the canal, all together"
