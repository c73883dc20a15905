"""Every rule can fail: a legal plan is sabotaged in one place, and the rule for that place speaks up."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest

from planbuilder.plan.types import Ground, Session, Step, Week
from planbuilder.rules import RULES, RuleContext, check, exceptions, why, wishes
from planbuilder.rules.checks_load import longest_before, single_run_cap_m
from planbuilder.rules.checks_rhythm import load_before
from planbuilder.schedule import make_schedule, rule_context
from planbuilder.units import SYSTEMS, say_in
from tests.schedule.builders import LATE_CLIMB, Heights, request_of

Weeks = tuple[Week, ...]

HALF: dict[str, Any] = {
    "weeks": 12,
    "weekly_distance": "55 km",
    "longest_run": "18 km",
    "fast_minutes": 40,
    "days": ("monday", "tuesday", "thursday", "saturday", "sunday"),
    "results": [{"distance": "10 km", "time": "42:30", "date": dt.date(2027, 2, 10)}],
    "training": {
        "club_nights": [{"day": "tuesday", "time": "19:00"}],
        "tune_ups": [
            {"name": "Quarry 10", "date": dt.date(2027, 4, 18), "distance": "10 km", "course": "hilly"}
        ],
    },
}
HILLY: Heights = tuple((turn / 14, 25.0 * (turn % 2)) for turn in range(15))
ROLLING: Heights = tuple((place / 12, 26.0 if place % 2 else 0.0) for place in range(13))
DOWNHILL: Heights = ((0, 60), (0.1, 30), (0.5, 30), (0.6, 4), (1, 0))


@cache
def _block(name: str) -> tuple[Weeks, RuleContext]:
    more: dict[str, dict[str, Any]] = {
        "half": {},
        "downhill": {"shape": DOWNHILL, "training": {}},
        "unscreened": {"screening": None},
        "sore calf": {"injuries": [{"place": "calf", "pain": 1}]},
        "sore knee": {"injuries": [{"place": "knee", "pain": 4}]},
        "sore bone": {"injuries": [{"place": "bone", "pain": 2}]},
        "minor": {"age": 16, "distance": "10 km", "level": "intermediate", "longest_run": "12 km"},
        "rolling": {"shape": ROLLING, "training": {}},
        "hilly": {"shape": HILLY, "training": {}},
        "marathon": {"distance": "marathon", "weeks": 16, "weekly_distance": "70 km", "longest_run": "24 km"},
        "long": {"weeks": 20, "training": {}},
        "no hills": {"hills": False, "treadmill": True},
        "away": {"away": [{"from": dt.date(2027, 3, 23), "to": dt.date(2027, 3, 27), "runs": 1}]},
        "two weeks away": {
            "training": {},
            "away": [{"from": dt.date(2027, 3, 22), "to": dt.date(2027, 4, 4), "runs": 2}],
        },
    }
    request = request_of(**{**HALF, **more[name]})
    return make_schedule(request).weeks, rule_context(request)


Change = Callable[[Session], Session]


def _changed(weeks: Weeks, pick: Callable[[Session], bool], change: Change, *, every: bool = False) -> Weeks:
    """The weeks with the last session that is picked changed, or all of them, and the sums made new."""
    chosen = [session.id for week in weeks for session in week.sessions if pick(session)]
    assert chosen, "the plan has nothing to sabotage here"
    ids = set(chosen) if every else {chosen[-1]}
    return tuple(
        _summed(week, [change(one) if one.id in ids else one for one in week.sessions]) for week in weeks
    )


def _summed(week: Week, sessions: Sequence[Session]) -> Week:
    runs = [one for one in sessions if one.role not in ("race", "tune_up", "strength", "cross")]
    return replace(
        week,
        sessions=tuple(sorted(sessions, key=lambda one: one.date)),
        distance_m=sum(one.distance_m for one in runs),
        duration_s=sum(one.duration_s for one in runs),
        work_s=sum(one.work_s for one in runs),
    )


def _with_week(weeks: Weeks, index: int, **changes: Any) -> Weeks:
    return (*weeks[:index], replace(weeks[index], **changes), *weeks[index + 1 :])


def _loaded(weeks: Weeks, context: RuleContext, skip: int = 1) -> int:
    from planbuilder.rules.context import is_loaded

    return [index for index, week in enumerate(weeks) if is_loaded(week, context)][skip]


def _scaled(weeks: Weeks, index: int, factor: float) -> Weeks:
    week = weeks[index]
    sessions = [
        replace(one, distance_m=one.distance_m * factor, duration_s=one.duration_s * factor)
        for one in week.sessions
    ]
    return (*weeks[:index], _summed(week, sessions), *weeks[index + 1 :])


def _step(**changes: Any) -> Step:
    step = Step("work", 1, 600.0, None, (7.0, 8.0), None, Ground("flat"), "sabotage")
    return replace(step, **changes)


def _moved(days: int) -> Change:
    return lambda one: replace(one, date=one.date + dt.timedelta(days=days))


def _kind(*kinds: str) -> Callable[[Session], bool]:
    return lambda one: one.kind in kinds


def _role(*roles: str) -> Callable[[Session], bool]:
    return lambda one: one.role in roles


def _hard_key(one: Session) -> bool:
    return one.hard and one.role in ("key", "club")


def _early_easy(one: Session) -> bool:
    return one.role == "easy" and one.id.startswith("w04")


Sabotage = Callable[[Weeks, RuleContext], Weeks]
Pick = Callable[[Session], bool]


def _one(pick: Pick, **changes: Any) -> Sabotage:
    """Change the last session that is picked."""
    return lambda weeks, _: _changed(weeks, pick, lambda one: replace(one, **changes))


def _all(pick: Pick, **changes: Any) -> Sabotage:
    """Change every session that is picked."""
    return lambda weeks, _: _changed(weeks, pick, lambda one: replace(one, **changes), every=True)


def _both(pick: Pick, change: Change) -> Sabotage:
    return lambda weeks, _: _changed(weeks, pick, change, every=True)


def _without_warm_up(one: Session) -> Session:
    return replace(one, steps=tuple(step for step in one.steps if step.kind != "warm_up"))


def _more_runs(weeks: Weeks, context: RuleContext) -> Weeks:
    first = weeks[1].sessions[0]
    more = [replace(first, id=f"x{number}") for number in range(4)]
    return _with_week(weeks, 1, sessions=(*weeks[1].sessions, *more))


def _more_days(weeks: Weeks, index: int) -> Weeks:
    """Two running days more in one week."""
    week = weeks[index]
    free = [week.first_day + dt.timedelta(days=day) for day in range(7)]
    free = [day for day in free if day not in {one.date for one in week.sessions}][:2]
    more = [replace(week.sessions[0], id=f"x{day}", date=day) for day in free]
    return (*weeks[:index], _summed(week, [*week.sessions, *more]), *weeks[index + 1 :])


def _heavier(week: Week) -> Week:
    return replace(week, distance_m=week.distance_m * 1.4)


def _in_week_4(one: Session) -> bool:
    return one.id.startswith("w04") and one.role in ("easy", "club", "key")


def _descends(one: Session) -> bool:
    return one.descent_work_s > 0 and one.role != "race"


def _on_the_days_after_the_tune_up(one: Session) -> bool:
    return one.date == dt.date(2027, 4, 20)


def _two_days_behind_a_hill_finish(one: Session) -> bool:
    return one.date == dt.date(2027, 4, 27)


def _climbs(one: Session) -> bool:
    return any(step.ground.grade for step in one.steps)


def _behind_two_weeks(weeks: Weeks) -> int:
    """The second week at home."""
    return next(at for at, week in enumerate(weeks) if week.first_day == dt.date(2027, 4, 12))


def _first_home_hard(weeks: Weeks) -> Weeks:
    home = next(one for week in weeks for one in week.sessions if one.date > dt.date(2027, 4, 4))
    return _changed(weeks, lambda one: one.id == home.id, lambda one: replace(one, hard=True))


SOFT: Pick = _role("easy")
LONG: Pick = _role("long")
KEYS: Pick = _role("key", "club", "long", "tune_up", "test")
SLOPE = _step(pace_s_per_km=(280.0, 280.0), ground=Ground("up", 0.04))

SABOTAGE: dict[str, tuple[str, Sabotage]] = {
    "load.first_week": ("half", lambda w, _: _scaled(w, 0, 1.2)),
    "load.weekly_rise": ("half", lambda w, c: _scaled(w, _loaded(w, c, 2), 1.35)),
    "load.two_week_ceiling": ("half", lambda w, c: _scaled(w, _loaded(w, c, 2), 1.5)),
    "load.way_back": ("half", lambda w, c: _scaled(w, _loaded(w, c, 2) - 1, 0.4)),
    "load.peak": ("half", lambda w, c: _scaled(w, _loaded(w, c, 3), 1.6)),
    "load.recovery_rhythm": ("half", lambda w, _: tuple(replace(o, recovery=False, sessions=()) for o in w)),
    "load.recovery_share": ("half", lambda w, _: _scaled(w, [o.recovery for o in w].index(True), 1.5)),
    "load.single_run_cap": ("half", _one(LONG, distance_m=60_000.0)),
    "load.long_share": ("half", _one(lambda one: one.id == "w01-long", distance_m=60_000.0)),
    "load.long_cap": ("half", _one(LONG, duration_s=151 * 60.0)),
    "load.work_rise": ("half", _one(_hard_key, work_s=9000.0)),
    "load.easy_share": ("half", _one(_early_easy, work_s=20_000.0)),
    "load.easy_share_block": ("half", lambda w, _: tuple(replace(o, work_s=o.duration_s * 0.24) for o in w)),
    "load.climb_rise": ("half", _one(_hard_key, climb_m=4000.0)),
    "load.one_thing": ("half", lambda w, c: _scaled(w, _loaded(w, c, 2), 1.35)),
    "load.working_long": ("half", _all(LONG, hard=True)),
    "taper.touch": ("half", _one(_kind("race_touch"), duration_s=46 * 60.0)),
    "taper.shares": ("half", lambda w, _: _scaled(w, len(w) - 1, 1.6)),
    "day.race_on_its_date": ("half", _both(_role("race"), _moved(-1))),
    "day.one_run_a_day": ("half", _one(_early_easy, date=dt.date(2027, 3, 28))),
    "day.available": ("half", _one(_early_easy, date=dt.date(2027, 3, 24))),
    "day.away": ("away", _all(_in_week_4, date=dt.date(2027, 3, 25))),
    "day.club_nights": ("half", _one(_role("club"), role="easy")),
    "load.way_home": ("two weeks away", lambda w, _: _scaled(w, _behind_two_weeks(w), 1.2)),
    "load.way_home_long": ("two weeks away", lambda w, _: _scaled(w, _behind_two_weeks(w), 1.3)),
    "day.home_easy": ("two weeks away", lambda w, _: _first_home_hard(w)),
    "day.hard_sessions": ("half", _all(SOFT, hard=True)),
    "day.hard_gap": ("half", _all(SOFT, hard=True)),
    "day.test_after_long": ("half", _one(_two_days_behind_a_hill_finish, role="test")),
    "day.before_hard": ("half", _all(SOFT, hard=True)),
    "tune_up.effort": ("half", _both(_role("tune_up"), _moved(1))),
    "tune_up.days_around": ("half", _one(_on_the_days_after_the_tune_up, hard=True)),
    "taper.last_hard": ("half", _one(_kind("shakeout"), hard=True)),
    "taper.frequency": ("half", lambda w, _: _with_week(w, len(w) - 2, sessions=w[-2].sessions[:2])),
    "taper.nothing_new": ("half", _one(_kind("race_touch"), kind="hill_circuit")),
    "session.parts": ("half", _both(_hard_key, _without_warm_up)),
    "session.pace_band": ("half", _one(_early_easy, steps=(SLOPE,))),
    "session.why": ("half", _one(_early_easy, why="")),
    "session.not_when": ("half", _one(_kind("race_touch"), kind="hill_circuit")),
    "safety.screening": ("unscreened", _one(_early_easy, steps=(_step(),))),
    "safety.no_running": ("sore bone", _one(_role("cross"), role="easy", kind="easy_run")),
    "safety.no_hard": ("sore knee", _one(_early_easy, hard=True)),
    "safety.sore_place": ("sore calf", _one(_early_easy, steps=(_step(kind="strides"),))),
    "safety.minor": ("minor", _more_runs),
    "course_work.descents": ("downhill", _one(_descends, descent_work_s=1000.0)),
    "course_work.hard_a_week": ("half", _all(_hard_key, course_specific=True)),
    "wish.long_run_day": ("half", _both(LONG, _moved(-1))),
    "wish.phase_lengths": (
        "half",
        lambda w, _: tuple(replace(o, phase="build") if o.phase == "base" else o for o in w),
    ),
    "wish.frequency": ("half", lambda w, c: _more_days(w, _loaded(w, c, 3))),
    "wish.full_easy_week": ("long", lambda w, _: tuple(_heavier(o) if o.recovery else o for o in w)),
    "wish.midweek_easy": ("half", _all(SOFT, duration_s=100 * 60.0)),
    "wish.longest_run": ("half", _all(LONG, distance_m=9000.0, duration_s=3300.0)),
    "wish.course_sessions": ("rolling", _all(lambda one: one.course_specific, course_specific=False)),
    "wish.climb_sessions": ("half", _all(_climbs, steps=(_step(),))),
    "wish.rolling_ground": ("hilly", _all(LONG, kind="long_run", steps=())),
    "wish.hill_finish": ("half", _all(_kind("hill_finish_long_run"), kind="long_run")),
    "wish.descents": ("downhill", _all(_descends, descent_work_s=0.0)),
    "wish.substitute": ("no hills", _all(lambda one: bool(one.substitute), substitute="")),
    "wish.flat_rhythm": ("half", _all(KEYS, kind="easy_run", role="easy")),
    "wish.marathon_effort": ("marathon", _all(LONG, steps=())),
    "wish.hard_sessions": ("half", _all(lambda one: one.hard, hard=False)),
    "wish.long_variety": ("half", _all(LONG, kind="long_run", duration_s=6000.0)),
    "wish.fresh_strides": ("half", _all(SOFT, kind="strides")),
    "wish.fresh_for_tune_ups": (
        "half",
        _all(SOFT, role="key", hard=True, steps=(_step(duration_s=1200.0),)),
    ),
    "wish.worth_warming_up": (
        "half",
        _all(_kind("long_hill_reps"), role="key", steps=(_step(kind="work", repeat=2, duration_s=75.0),)),
    ),
}


@pytest.mark.parametrize("rule", sorted(SABOTAGE))
def test_a_sabotaged_plan_is_caught_by_its_rule_and_the_untouched_one_is_not(rule: str) -> None:
    name, sabotage = SABOTAGE[rule]
    weeks, context = _block(name)
    found = wishes if rule.startswith("wish.") else check
    assert rule not in {one.rule for one in found(weeks, context)}
    caught = [one for one in found(sabotage(weeks, context), context) if one.rule == rule]
    assert caught, f"{rule} did not notice"
    assert all(any(sign.isdigit() for sign in one.text) or rule == "session.why" for one in caught)


def test_the_rest_day_rule_counts_seven_days_over_the_edge_of_a_week() -> None:
    weeks, context = _block("half")
    easy = next(one for one in weeks[1].sessions if one.role == "easy")
    monday = weeks[1].first_day
    every_day = [replace(easy, id=f"d{day}", date=monday + dt.timedelta(days=day)) for day in range(7)]
    full = (*weeks[:1], _summed(weeks[1], every_day), *weeks[2:])
    assert "day.rest" in {one.rule for one in check(full, context)}
    assert "day.rest" not in {one.rule for one in check(weeks, context)}


def test_novices_keep_two_rest_days() -> None:
    request = request_of(
        **{
            **HALF,
            "level": "novice",
            "days": ("monday", "tuesday", "wednesday", "thursday", "saturday", "sunday"),
        }
    )
    weeks, context = make_schedule(request).weeks, rule_context(request)
    assert "day.two_rest_days" not in {one.rule for one in check(weeks, context)}
    easy = next(one for one in weeks[1].sessions if one.role == "easy")
    six = [replace(easy, id=f"d{day}", date=weeks[1].first_day + dt.timedelta(days=day)) for day in range(6)]
    full = (*weeks[:1], _summed(weeks[1], six), *weeks[2:])
    assert "day.two_rest_days" in {one.rule for one in check(full, context)}


def test_a_day_with_too_few_minutes_is_noticed() -> None:
    request = request_of(**{**HALF, "minutes": {"thursday": 60}})
    weeks, context = make_schedule(request).weeks, rule_context(request)
    assert "day.minutes" not in {one.rule for one in check(weeks, context)}
    longer = _changed(weeks, lambda one: one.date.weekday() == 3, lambda one: replace(one, duration_s=3700.0))
    assert "day.minutes" in {one.rule for one in check(longer, context)}


def test_what_is_compared_never_prints_alike() -> None:
    weeks, context = _block("half")
    index = next(at for at, week in enumerate(weeks) if week.recovery)
    level = load_before(weeks, index, context)
    most_m = context.limits.numbers("load.recovery_share")[1] * level
    heavier = _scaled(weeks, index, 1.003 * most_m / weeks[index].distance_m)
    (found,) = [one for one in check(heavier, context) if one.rule == "load.recovery_share"]
    assert ", 85.3 % of the " in found.text
    assert found.text.endswith("the range is 65 % to 85 %.")
    long = [one for week in weeks for one in week.sessions if one.role == "long"][-3]
    longest = longest_before(
        weeks, next(i for i, w in enumerate(weeks) if long in w.sessions), context, long.date
    )
    cap_m = single_run_cap_m(longest, context)
    longer = _changed(weeks, lambda one: one.id == long.id, lambda one: replace(one, distance_m=cap_m + 60))
    (run,) = [
        one for one in check(longer, context) if one.rule == "load.single_run_cap" and one.session == long.id
    ]
    for system in SYSTEMS:
        said, most = re.findall(r"[\d.]+ (?:km|mi)", say_in(run.text, system))[:2]
        assert said != most


def test_every_rule_of_the_list_has_a_check_that_makes_it_fail() -> None:
    elsewhere = {"day.rest", "day.two_rest_days", "day.minutes", "wish.taper_length", "wish.race_touch"}
    assert {rule.name for rule in RULES} == {*SABOTAGE, *elsewhere}


def test_the_taper_of_a_saturday_race_begins_on_the_sunday_before_its_week() -> None:
    request = request_of(**{**HALF, "distance": "10 km", "race_date": dt.date(2027, 5, 15), "training": {}})
    weeks = make_schedule(request).weeks
    assert "wish.taper_length" not in {one.rule for one in wishes(weeks, rule_context(request))}
    sunday = [one for week in weeks for one in week.sessions if one.date == dt.date(2027, 5, 9)]
    assert all(not one.hard and one.duration_s <= 70 * 60 for one in sunday)


def test_each_rule_says_its_sentence_and_names_numbers_that_exist() -> None:
    limits = request_of(**HALF).limits
    for rule in RULES:
        assert rule.sentence.endswith("."), rule.name
        assert all(name in limits for name in rule.limits), rule.name
    assert len({rule.name for rule in RULES}) == len(RULES)


def test_days_away_use_an_exception_that_the_plan_notes() -> None:
    weeks, context = _block("away")
    used = {one.rule for one in exceptions(weeks, context)}
    request = request_of(
        **{**HALF, "away": [{"from": dt.date(2027, 3, 23), "to": dt.date(2027, 3, 27), "runs": 1}]}
    )
    noted = {note.rule for note in make_schedule(request).notes if note.kind == "exception"}
    assert used <= noted


def test_the_late_climb_of_the_course_is_the_one_the_half_rehearses() -> None:
    assert LATE_CLIMB[2] == (0.875, 38)
    weeks, _ = _block("half")
    assert any(one.kind == "race_simulation" for week in weeks for one in week.sessions)


def test_why_tells_the_whole_chain_with_the_mark_of_each_number() -> None:
    request = request_of(**HALF)
    weeks = make_schedule(request).weeks
    long = next(one for one in weeks[4].sessions if one.role == "long")
    plan = SimpleNamespace(sessions=tuple(one for week in weeks for one in week.sessions))
    chain = why(plan, long.id, request.limits)  # type: ignore[arg-type]
    assert {"phase", "number", "would change"} <= {reason.kind for reason in chain}
    cap = next(reason for reason in chain if reason.rule == "load.single_run_cap")
    assert "published: Frandsen et al. 2025" in cap.text
    with pytest.raises(KeyError, match="w99-long"):
        why(plan, "w99-long", request.limits)  # type: ignore[arg-type]


def test_every_training_session_has_a_chain_of_at_least_three_links() -> None:
    for week in make_schedule(request_of(**HALF)).weeks:
        for one in week.sessions:
            if one.role not in ("race", "tune_up"):
                assert len(one.reasons) >= 3, one.id
