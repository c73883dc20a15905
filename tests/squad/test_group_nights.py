"""A club night is one session for all: one start, one whistle, own doses, and nobody's limits broken."""

from __future__ import annotations

import datetime as dt
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder import pipeline
from planbuilder.block import Block, read_block
from planbuilder.block.survey import survey
from planbuilder.outputs.calendar.content import span_of
from planbuilder.outputs.squad import night_shape, night_sheets, squad_row
from planbuilder.plan.types import Plan, Session
from planbuilder.plan.walk import timeline
from planbuilder.rules.context import main_work_s
from planbuilder.rules.night_row import night_share
from planbuilder.rules.typed_night import read_night
from planbuilder.schedule import rule_context
from planbuilder.schedule.group_night import (
    all_in_s,
    group_draft,
    group_reason,
    group_want,
    runs_easily,
    whistle_of,
)
from planbuilder.schedule.state import Planner
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import in_minutes
from tests.schedule.builders import request_of
from tests.squad.squads import FIRST_DAY, rows_of, write_roster, write_squad

TYPED = {
    FIRST_DAY + dt.timedelta(days=1): "6 x 5 min threshold, 75 s jog",
    FIRST_DAY + dt.timedelta(days=8): "10 x 60 s fast, 2 min walk",
    FIRST_DAY + dt.timedelta(days=15): "short hills 10 x 60 s, jog down, Mill Lane",
    FIRST_DAY + dt.timedelta(days=36): "20 min tempo",
    FIRST_DAY + dt.timedelta(days=43): "8 x 3 min, 90 s jog, canal",
}


def _makes_room(session: Session) -> bool:
    """Whether a long run stands on another day for a night that the coach typed."""
    return any("come rested to the club night" in reason.text for reason in session.reasons)


def nights_held(block: Block) -> Block:
    return pipeline.with_nights(block, survey(block, block.runners))[0]


def club_sessions(plans: list[Plan]) -> dict[dt.date, list[Session]]:
    found: dict[dt.date, list[Session]] = {}
    for plan in plans:
        for session in plan.sessions:
            if session.role == "club":
                found.setdefault(session.date, []).append(session)
    return found


def whistles(session: Session) -> list[float]:
    """Seconds after the start at which each repeat begins and ends; strides of the warm-up are none."""
    return [
        at
        for leg in timeline(session.steps)
        if leg.kind == "work"
        for at in (leg.start_s, leg.start_s + leg.duration_s)
    ]


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> tuple[Block, list[Plan]]:
    block = read_block(write_squad(tmp_path_factory.mktemp("squad"), 14, nights=TYPED))
    return nights_held(block), list(pipeline.plan_all(block))


def test_everybody_starts_together_at_the_place_the_coach_typed(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    for date, sessions in club_sessions(plans).items():
        assert {session.start_time for session in sessions} == {dt.time(19)}
        place = block.nights[date].place if date in block.nights else ""
        assert {session.place for session in sessions} == {place or "Withy Fen track"}


def test_every_repeat_begins_and_ends_on_the_same_whistle(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    shared = 0
    for date, sessions in club_sessions(plans).items():
        if date not in block.nights:
            continue
        blown = [whistles(session) for session in sessions if session.work_s > 360]
        longest = max(blown, key=len, default=[])
        for mine in blown:
            if len(longest) == 2:  # one long stretch: who may do less stops before the last whistle
                assert mine[0] == pytest.approx(longest[0], abs=0.5)
                assert 300 <= mine[1] - mine[0] <= max(end[1] for end in blown) - longest[0] + 0.5
            else:
                assert mine == pytest.approx(longest[: len(mine)], abs=0.5)
        shared += len(blown) > 1
    assert shared >= 8


def test_sheet_plans_and_feeds_name_one_end_of_a_night(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    held = club_sessions(plans)
    ended = told = 0
    for sheet in night_sheets([squad_row(plan) for plan in plans], block.limits):
        sessions = held[sheet.date]
        night = block.nights.get(sheet.date)  # none in race week
        if night is None or all_in_s(night, block.limits) is None:
            assert {session.group_ends for session in sessions} == {None}
            continue
        assert {session.group_ends for session in sessions} == {sheet.ends}
        ended += 1
        for session in sessions:
            (plan,) = (plan for plan in plans if session in plan.sessions)
            start, end = span_of(plan, session)
            assert isinstance(start, dt.datetime)
            assert isinstance(end, dt.datetime)
            assert start.time() == sheet.start
            minutes = in_minutes(session.group_s or 0.0)
            assert end - start == dt.timedelta(minutes=max(minutes, in_minutes(session.duration_s)))
            alone_s = session.duration_s - (session.group_s or 0.0)
            last = session.steps[-1].words
            words = last.partition("all finish together at " if alone_s < 0 else "the group is in at ")[2]
            assert words == (f"{sheet.ends:%H:%M}" if abs(alone_s) >= 180 else "")
            told += bool(words)
    assert ended >= 8
    assert told >= 8


def test_who_runs_easily_beside_a_working_group_is_told_why(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    said = Counter[str]()
    for plan in plans:
        for session in plan.sessions:
            night = block.nights.get(session.date)
            if session.role != "club" or night is None or group_reason(session) or runs_easily(night):
                continue
            rules = [reason.rule for reason in session.reasons if "you run easily with it" in reason.text]
            assert len(rules) == 1, (plan.runner.name, session.date)
            assert not session.hard
            said.update(rules)
    assert {"day.club_nights", "load.work_rise", "load.recovery_share", "day.hard_gap"} <= set(said)


def test_who_does_less_than_the_group_is_told_why(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    told = 0
    for plan in plans:
        for session in plan.sessions:
            night = block.nights.get(session.date)
            whistle = whistle_of(night, block.limits) if night is not None else None
            if session.role != "club" or whistle is None or not group_reason(session):
                continue
            work_s = sum(leg.duration_s for leg in timeline(session.steps) if leg.kind == "work")
            why = [reason for reason in session.reasons if "Those who do most work for" in reason.text]
            assert len(why) == (work_s < whistle.work_s - 30)
            told += len(why)
    assert told >= 8


@pytest.mark.parametrize(("seed", "days"), [(1, ("tuesday", "thursday")), (2, ("tuesday",))])
def test_a_proposal_serves_at_least_half_of_those_who_come_and_may_work(
    tmp_path: Path, seed: int, days: tuple[str, ...]
) -> None:
    block = nights_held(read_block(write_squad(tmp_path, 11, seed=seed, days=days)))
    works, comes = Counter[dt.date](), Counter[dt.date]()
    for plan in pipeline.plan_all(block):
        open_ = any("your plan is easy running only" in r.text for s in plan.sessions for r in s.reasons)
        for session in plan.sessions:
            night = block.nights.get(session.date)
            if session.role == "club" and night is not None and not runs_easily(night) and not open_:
                comes[session.date] += 1
                works[session.date] += group_reason(session)
    assert len(comes) >= 8
    for date, number in comes.items():
        assert works[date] >= 0.5 * number, (date, block.nights[date].text)


def test_a_proposed_easy_night_lasts_as_long_as_half_of_those_who_come_run_within_the_evening(
    tmp_path: Path,
) -> None:
    folder = write_squad(tmp_path, 8, seed=5, days=("tuesday", "thursday"))
    block = nights_held(read_block(folder))
    held = club_sessions(list(pipeline.plan_all(block)))
    easy = {date: night for date, night in block.nights.items() if runs_easily(night)}
    assert len(easy) >= 8
    for date, night in easy.items():
        ends_s = all_in_s(night, block.limits)
        assert ends_s is not None
        assert ends_s % 600 == 0
        assert ends_s <= 80 * 60, "the evening lasts 80 minutes"
        fills = sum(session.duration_s >= ends_s - 600 for session in held[date])
        assert fills >= 0.3 * len(held[date]), date


def test_an_evening_too_short_to_be_worth_a_warm_up_is_proposed_as_an_easy_run(tmp_path: Path) -> None:
    """35 min less 20 of warm-up and 10 of cool-down leave 5: no set of 3 repeats and 3 min, nor of 8 min."""
    folder = write_squad(tmp_path, 6)
    text = (folder / "block.toml").read_text("utf-8")
    (folder / "block.toml").write_text(text.replace("minutes = 80", "minutes = 35"), "utf-8")
    block = nights_held(read_block(folder))
    lines = {night.text for night in block.nights.values()}
    assert lines == {"easy 30 min, or your own session"}


def test_a_typed_night_is_what_the_coach_typed_or_easy_with_the_group(
    squad: tuple[Block, list[Plan]],
) -> None:
    block, plans = squad
    held = 0
    for date in TYPED:
        kinds = {session.kind for session in club_sessions(plans)[date]}
        night = block.nights[date]
        assert kinds <= {night.base, night.template.instead, "threshold_repeats", "group_easy"}
        held += night.base in kinds
    assert held >= 3


def test_two_runners_share_whistles_and_not_paces(squad: tuple[Block, list[Plan]]) -> None:
    """K.2 no. 13: same squad session for two athletes, same start, same whistle, different pace lines."""
    _, plans = squad
    date = FIRST_DAY + dt.timedelta(days=1)
    lines = [
        next(step.pace_s_per_km for step in session.steps if step.kind == "work")
        for session in club_sessions(plans)[date]
        if session.kind == "threshold_repeats"
    ]
    assert len({line for line in lines if line is not None}) > 3


@pytest.mark.parametrize("seed", [2, 3])
def test_no_limit_of_any_runner_is_broken(tmp_path: Path, seed: int) -> None:
    _no_breaches(tmp_path, seed, 8)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(10, 30))
def test_no_limit_of_any_runner_is_broken_in_many_squads(tmp_path: Path, seed: int) -> None:
    _no_breaches(tmp_path, seed, 25)


def _no_breaches(folder: Path, seed: int, count: int) -> None:
    dice = random.Random(seed)
    lines = [
        *(
            "6 x 5 min threshold, 75 s jog",
            "8 x 3 min, 90 s jog",
            "hills 8 x 2 min, jog down",
            "20 min tempo",
        ),
        *("10 x 60 s fast, 2 min walk", "5 x 4 min race effort, 2 min jog", "40 min easy", "intervals"),
        *("3 sets of 4 x 200 fast, 30 s / 3 min", "pyramid 1-2-3-4-3-2-1 min, 90 s jog", "2 mile time trial"),
        *("20 min tempo + 6 x 30 s hills", "fartlek 30 min", "continuous hills 3 x 6 min", "6 x 800 steady"),
    ]
    days = ("tuesday", "thursday") if seed % 2 else ("tuesday",)
    nights = {
        FIRST_DAY + dt.timedelta(days=7 * week + WEEKDAYS.index(day)): dice.choice([*lines, "off", "off"])
        for week in range(16)
        for day in days
        if dice.random() < 0.6
    }
    block = read_block(write_squad(folder, count, seed=seed, nights=nights, days=days))
    off = {date for date, line in nights.items() if line == "off"}
    assert set(block.off) == off
    for plan, breaches in pipeline.check_block(block):
        assert not [one.text for one in breaches if not one.excepted], plan.runner.name
        assert not [one.id for one in plan.sessions if one.role == "club" and one.date in off]


def test_the_order_of_the_roster_changes_nothing(tmp_path: Path) -> None:
    first = read_block(write_squad(tmp_path / "a", 9, seed=5))
    second_folder = write_squad(tmp_path / "b", 9, seed=5)
    write_roster(second_folder / "roster.csv", list(reversed(rows_of(9, 5))))
    second = read_block(second_folder)
    assert nights_held(first).nights == nights_held(second).nights
    weeks = {plan.runner.key: plan.weeks for plan in pipeline.plan_all(first)}
    assert weeks == {plan.runner.key: plan.weeks for plan in pipeline.plan_all(second)}


def test_a_squad_of_one_equals_the_single_plan(tmp_path: Path) -> None:
    block = read_block(write_squad(tmp_path, 1, seed=4))
    ground = survey(block, block.runners)
    alone = pipeline.plan_from(
        block, ground, block.runners[0], pipeline.request_for(block, ground, block.runners[0])
    )
    assert not nights_held(block).nights
    assert next(pipeline.plan_all(block)).weeks == alone.weeks


def test_one_runner_of_a_squad_gets_the_same_plan_when_asked_for_alone(tmp_path: Path) -> None:
    block = read_block(write_squad(tmp_path, 6, seed=6))
    together = {plan.runner.key: plan.weeks for plan in pipeline.plan_all(block)}
    key = block.runners[3].key
    assert next(pipeline.plan_all(block, only=key)).weeks == together[key]


def test_a_proposal_that_is_written_down_stays_what_it_was_and_only_gains_runners(tmp_path: Path) -> None:
    """What the coach has written down comes before a session of one's own, and changes nothing else."""
    block = read_block(write_squad(tmp_path, 8, seed=7))
    proposed = nights_held(block).nights
    again = read_block(
        write_squad(tmp_path, 8, seed=7, nights={date: night.text for date, night in proposed.items()})
    )
    assert len(proposed) >= 10
    for date, night in proposed.items():
        assert replace(again.nights[date], words="") == replace(night, words="")
    alike = 0
    for before, after in zip(pipeline.plan_all(block), pipeline.plan_all(again), strict=True):
        pairs = enumerate(zip(before.weeks, after.weeks, strict=True))
        first = next((at for at, (one, other) in pairs if one != other), None)
        made_room = first is not None and any(map(_makes_room, after.weeks[first].sessions))
        alike += first is None or made_room
        if first is not None:
            last = first + 1 + made_room  # it gains the night of the next week
            joined = [
                sum(group_reason(one) for week in plan.weeks[first:last] for one in week.sessions)
                for plan in (before, after)
            ]
            assert joined[0] < joined[1]
    assert alike >= 4


@pytest.fixture(scope="module")
def typed_squad(tmp_path_factory: pytest.TempPathFactory) -> tuple[Block, list[Plan]]:
    lines = ("45 min easy", "strides", "8 x 3 min, 90 s jog", "fartlek 30 min", "3 km time trial")
    nights = {FIRST_DAY + dt.timedelta(days=7 * week + 1): lines[week % 5] for week in range(15)}
    block = read_block(write_squad(tmp_path_factory.mktemp("typed"), 12, seed=9, nights=nights))
    return block, list(pipeline.plan_all(block))


def test_an_easy_night_that_the_coach_typed_is_easy_for_all_who_come_and_strides_stay(
    typed_squad: tuple[Block, list[Plan]],
) -> None:
    block, plans = typed_squad
    strides = 0
    for date, sessions in club_sessions(plans).items():
        night = block.nights.get(date)
        if night is None or not runs_easily(night):
            continue
        assert {one.kind for one in sessions} <= {"group_easy", "strides", "shakeout"}, date
        assert not any(one.hard for one in sessions)
        if night.base == "strides":
            strides += sum(one.kind == "strides" for one in sessions)
    assert strides >= 12


def test_what_the_coach_typed_comes_before_a_key_session_of_ones_own(
    typed_squad: tuple[Block, list[Plan]],
) -> None:
    """Whoever runs easily beside the group is kept out by a rule, or by the decisive long run alone."""
    block, plans = typed_squad
    held = 0
    for date, sessions in club_sessions(plans).items():
        night = block.nights.get(date)
        if night is None or runs_easily(night):
            continue
        for session in sessions:
            held += group_reason(session)
            for reason in session.reasons:
                if "that is the hard running" in reason.text or "right beside it" in reason.text:
                    assert "long run" in reason.text or "simulation" in reason.text, reason.text
    assert held >= 60


def test_what_the_coach_asks_of_those_who_come_stands_behind_the_place(tmp_path: Path) -> None:
    date = FIRST_DAY + dt.timedelta(days=1)
    block = read_block(write_squad(tmp_path, 2, seed=9, nights={date: "6 x 3 min, 90 s, bring spikes"}))
    places = {one.place for one in club_sessions(list(pipeline.plan_all(block)))[date]}
    assert places == {"Withy Fen track, bring spikes"}


def test_the_sheet_is_headed_by_what_was_typed(tmp_path: Path) -> None:
    date = FIRST_DAY + dt.timedelta(days=8)
    block = read_block(write_squad(tmp_path, 6, seed=9, nights={date: "20 min tempo + 6 x 30 s hills"}))
    rows = [squad_row(plan) for plan in pipeline.plan_all(block)]
    (sheet,) = (one for one in night_sheets(rows, block.limits, block.nights) if one.date == date)
    assert sheet.title == "Threshold run and short hill repeats"
    assert sheet.lead is not None
    assert night_shape(sheet.lead) == "20 min, then after 3 min 6 × 30 s, 1 min between"


def test_race_effort_on_a_club_night_is_that_of_the_own_table_of_paces() -> None:
    """A 10 km is run at RPE 8 (common practice, no source), alone and with the group, in plan and sheet.

    A race for finishing well ends at 7 to 8; the head of a sheet spans what is run.
    """
    block = nights_held(read_block(Path("demo_plans/rolling-10k")))
    plans = list(pipeline.plan_all(block))
    nights: set[dt.date] = set()
    for plan in plans:
        band = plan.paces.band("race effort")
        own = (7, 8) if plan.race_plan.for_finishing else (8, 8)
        assert (band.rpe_low, band.rpe_high) == own
        for session in plan.sessions:
            steps = [step for step in session.steps if step.band == "race effort"]
            assert all(step.effort_rpe == own for step in steps if session.kind == "goal_repeats")
            nights |= {session.date} if steps and session.role == "club" else set()
    sheets = [one for one in night_sheets(map(squad_row, plans), block.limits, block.nights) if one.lead]
    heads = [one.lead.effort_rpe for one in sheets if one.lead and one.date in nights]
    assert heads
    assert set(heads) <= {(8.0, 8.0), (7.0, 8.0)}


@pytest.mark.parametrize(
    ("treadmill", "words"),
    [(True, "Only where the group's hill is out of reach: a treadmill at 5 %"), (False, "")],
)
def test_without_hills_near_home_a_hill_night_is_run_on_the_hill_of_the_group(
    treadmill: bool, words: str
) -> None:
    """Common practice, no source: who comes to the club runs where the club runs."""
    evening = dt.date(2027, 4, 13)
    request = request_of(
        training={"club_nights": [{"day": "tuesday", "time": "19:00"}]},
        weekly_distance="50 km",
        longest_run="17 km",
        days=("tuesday", "wednesday", "thursday", "saturday", "sunday"),
        results=[{"distance": "10 km", "time": "44:00", "date": dt.date(2027, 2, 14)}],
        treadmill=treadmill,
        hills=False,
    )
    night = read_night("hills 8 x 2 min, jog down", name="n", library=request.library, limits=request.limits)
    lines = []
    for hills in (False, True):
        mine = replace(
            request, nights={evening: night}, runner=request.runner.model_copy(update={"hills": hills})
        )
        planner = Planner(mine, rule_context(mine), (), frozenset())
        frame = next(one for one in planner.context.frames if evening in one.days)
        want = group_want(planner, frame, evening)
        assert want is not None
        draft = group_draft(planner, want, frame.phase, 3600.0, 2000.0, 50_000.0)
        assert draft is not None
        lines.append(draft)
    own, group = lines
    assert own.steps == group.steps
    assert own.main_set == group.main_set
    assert own.substitute.startswith(words)
    assert bool(own.substitute) is treadmill
    assert not group.substitute


@pytest.mark.parametrize("seed", [24, 27])
def test_nobody_jogs_on_until_a_night_is_longer_than_the_long_run(tmp_path: Path, seed: int) -> None:
    """Common practice, no source: the long run is the longest of the week; who does less is in sooner."""
    block = read_block(write_squad(tmp_path, 12, seed=seed))
    waits = 0
    for plan in pipeline.plan_all(block):
        for week in plan.weeks:
            if week.recovery:  # all runs are short in it, and as long as each other
                continue
            long_m = max((one.distance_m for one in week.sessions if one.role == "long"), default=0.0)
            for one in week.sessions:
                if one.role == "club" and any("until the last whistle" in step.words for step in one.steps):
                    waits += 1
                    assert not long_m or one.distance_m <= long_m, (plan.runner.name, one.id)
    assert waits


EVERY = ("8 x 3 min, 90 s jog", "20 min tempo", "6 x 4 min, 90 s jog")


def test_a_hard_long_run_makes_room_by_a_day_for_a_night_that_the_coach_typed(tmp_path: Path) -> None:
    """From 50 two easy days lie between hard ones; the coached night comes before the chosen day of a long
    run: common practice, no source."""
    typed = {FIRST_DAY + dt.timedelta(days=1 + 7 * week): EVERY[week % 3] for week in range(1, 14)}
    block = read_block(write_squad(tmp_path, 36, nights=typed))
    moved = 0
    for plan in pipeline.plan_all(block):
        for one in plan.sessions:
            if _makes_room(one):
                moved += 1
                assert (one.role, one.hard, one.date.weekday()) == ("long", True, 5)
                night = next(two for two in plan.sessions if two.date == one.date + dt.timedelta(days=3))
                assert night.hard
                assert group_reason(night)
    assert moved >= 3


def test_an_easy_night_gives_its_real_reason(squad: tuple[Block, list[Plan]]) -> None:
    """Hard days stay apart where some stand within two days; else the week or the runner is the reason."""
    said: Counter[str] = Counter()
    for plan in squad[1]:
        hard = [one.date for one in plan.sessions if one.hard or one.role in ("race", "tune_up")]
        works = any(one.work_s for one in plan.sessions if one.role not in ("race", "tune_up"))
        for week in plan.weeks:
            for one in week.sessions:
                if one.kind != "group_easy":
                    continue
                reason = one.why.partition("easy with the group")[2]
                said[reason] += 1
                near = any(abs((one.date - other).days) <= 2 for other in hard)
                assert near or "hard days" not in reason, (plan.runner.name, one.date)
                assert works or reason in (" until your answers are in.", ", as all your running for now.")
                assert not (works and week.recovery) or reason == ", because this week is light."
    assert len(said) >= 4, said


def test_title_and_why_of_a_session_fit_what_is_run_of_it(tmp_path: Path) -> None:
    """One repeat is no repeats, and a hill is like that of the race where the session rehearses it."""
    lines = ("3 x 10 min threshold, 90 s jog", "hills 6 x 90 s, jog down")
    days = [FIRST_DAY + dt.timedelta(days=day) for day in range(1, 99, 7)]
    nights = {day: lines[number % 2] for number, day in enumerate(days)}
    ones = hills = 0
    for plan in pipeline.plan_all(read_block(write_squad(tmp_path, 8, seed=4, nights=nights))):
        for session in plan.sessions:
            work = [step for step in session.steps if step.kind == "work"]
            if session.kind in ("threshold_repeats", "long_hill_reps") and sum(w.repeat for w in work) == 1:
                ones += 1
                assert "repeats" not in session.title
                assert "in pieces" not in session.why
                assert "repeats" not in session.why
            hills += session.kind == "long_hill_reps"
            assert session.course_specific or "like the one that decides" not in session.why
    assert ones
    assert hills


def test_less_of_a_long_tempo_than_the_others_says_what_really_bounds_it(tmp_path: Path) -> None:
    """Half a tempo beside a second hard night is not "as much as a runner at your level does"."""
    days = {FIRST_DAY + dt.timedelta(days=7 * week + 1): "30 min tempo" for week in (2, 3)}
    days |= {FIRST_DAY + dt.timedelta(days=7 * week + 3): "8 x 2 min, 90 s jog" for week in (2, 3)}
    block = read_block(write_squad(tmp_path, 6, seed=9, nights=days, days=("tuesday", "thursday")))
    bounded = 0
    for plan in pipeline.plan_all(block):
        most_s = night_share(plan.runner.level) * 1800
        for session in (one for one in plan.sessions if one.date in days and one.kind == "threshold_run"):
            texts = [one.text for one in session.reasons if "Those who do most" in one.text]
            if main_work_s(session) <= most_s - 60:
                assert texts
                assert not any("at your level" in text for text in texts)
                week = next(week for week in plan.weeks if session in week.sessions)
                others = [one for one in week.sessions if one.hard and one.date != session.date]
                assert all("part of it" in text for text in texts if others and "work in all" in text)
                bounded += 1
    assert bounded
