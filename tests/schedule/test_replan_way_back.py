"""The way back behind three lost weeks, and what the race advice counts.

The shares are those of ``limits.toml``: common coaching practice or our choice within it, no source; the cap
on a single run is that of Frandsen et al. 2025.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

import pytest

from planbuilder.plan.types import Session, Week
from planbuilder.schedule.block import rule_context
from planbuilder.schedule.replan import Done, EditLine, Replan, Situation, describe, replan
from planbuilder.schedule.replan.bounds import taper_from_m
from planbuilder.schedule.replan.facts import Facts
from planbuilder.schedule.replan.lived import long_break, weeks_as_lived
from planbuilder.schedule.replan.retold import retold
from planbuilder.units import say_in, say_minutes
from tests.schedule.random_histories import done, edit
from tests.schedule.test_replan_properties import maren

DAY = dt.timedelta(days=1)
REQUEST, WEEKS = maren()
LOST = (6, 7, 8)  # weeks without a run
FEVER = {"do": "ill", "fever": True, "from": WEEKS[5].first_day, "to": WEEKS[7].last_day}


def log(lost: tuple[int, ...] = LOST) -> tuple[Done, ...]:
    past = [
        (week.number, one) for week in WEEKS[: max(lost)] for one in week.sessions if one.role != "strength"
    ]
    return tuple(done(one, "missed" if number in lost else "done") for number, one in past)


@lru_cache(maxsize=8)
def lived_through(lost: tuple[int, ...] = LOST) -> tuple[Situation, Replan]:
    today = WEEKS[max(lost)].first_day
    situation = Situation(request=REQUEST, accepted=WEEKS, original=WEEKS, today=today, log=log(lost))
    return situation, replan(situation)


def accepted(lost: tuple[int, ...] = LOST) -> Situation:
    situation, answer = lived_through(lost)
    return replace(situation, accepted=answer.weeks)


def long_of(week: Week) -> Session:
    return next(one for one in week.sessions if one.role == "long")


def test_easy_runs_of_the_way_back_stay_below_the_long_run_of_their_week() -> None:
    """At most 65 % of it, 40 min always (our choice): the biggest run of a gentle week is the long one."""
    for week in lived_through()[1].weeks[8:11]:
        most_s = max(0.65 * long_of(week).duration_s, 40 * 60)
        easy = [one for one in week.sessions if one.role == "easy" and not one.cancelled and not one.hard]
        assert easy
        assert max(one.duration_s for one in easy) <= most_s + 1


def test_the_long_run_of_the_way_back_begins_short_and_grows_from_week_to_week() -> None:
    """60 % of the longest before at first (our choice), then by no more than a tenth (Frandsen et al.)."""
    longs = [long_of(week).distance_m for week in lived_through()[1].weeks[8:11]]
    assert longs[0] <= 0.60 * long_of(WEEKS[4]).distance_m
    assert longs[0] < longs[1] < longs[2]
    assert all(two <= 1.10 * max(one, 10_000) + 1000 for one, two in pairwise(longs))


def test_the_first_taper_week_behind_a_break_is_not_cut_once_more() -> None:
    """There is no fatigue to taper off: common practice, no source."""
    weeks = lived_through()[1].weeks
    assert weeks[10].phase == "taper"
    assert weeks[10].distance_m >= weeks[9].distance_m
    assert weeks[11].distance_m < weeks[10].distance_m <= WEEKS[10].distance_m + 1


@pytest.mark.parametrize("lost", [(8,), (2, 3)], ids=["one week", "long back"])
def test_behind_a_short_break_or_one_long_back_the_taper_counts_as_ever(lost: tuple[int, ...]) -> None:
    situation, answer = lived_through(lost)
    facts = Facts(situation, answer.weeks)
    assert facts.gaps(())
    assert taper_from_m(situation, facts.gaps(()), answer.weeks, rule_context(REQUEST)) == 0


def test_a_session_in_days_of_fever_was_not_run_though_nobody_says_so() -> None:
    ill = (edit("edit/ill/ines-a/1", **FEVER, on=WEEKS[7].last_day),)
    situation = Situation(
        request=REQUEST, accepted=WEEKS, original=WEEKS, today=WEEKS[8].first_day, edits=ill
    )
    facts = Facts(situation, WEEKS)
    assert {
        facts.outcome(one) for one in facts.runs if WEEKS[5].first_day <= one.date <= WEEKS[7].last_day
    } == {"missed"}
    assert weeks_as_lived(situation)[7].distance_m == 0


def advice(situation: Situation) -> list[str]:
    notes = describe(situation).notes
    return [say_in(note.text, "km") for note in notes if note.rule == "load.single_run_window"]


def test_long_runs_that_were_missed_or_lie_long_back_do_not_count_for_the_race() -> None:
    """The least to race a half on is 70 % of it, by the runs of the last 30 days: common practice."""
    situation = accepted()
    longest = max(long_of(week).distance_m for week in situation.accepted[8:11])
    assert max(long_of(week).distance_m for week in situation.accepted[:8]) > 0.7 * 21_097
    (text,) = advice(situation)
    assert text.startswith(
        f"The longest run of the 30 days before the race is {round(longest / 500) / 2:g} km; 15 km are the "
        "least to race on. Our advice is a shorter race that day"
    )
    assert "walk and run by turns for the finish" in text
    assert not describe(situation).refused, "advice forbids nothing"


def test_a_long_run_that_was_run_in_time_counts_though_it_stands_in_no_plan() -> None:
    situation = accepted()
    day = situation.request.race.date - 20 * DAY
    ran = Done("log/x", day, "", "done", distance_m=16_000.0)
    assert not advice(replace(situation, log=(*situation.log, ran), today=day + DAY))


def test_a_plan_that_was_laid_out_short_of_it_is_no_loss() -> None:
    """Its longest runs stand more than 30 days before the race: only what was lost is a reason to advise."""
    short = tuple(
        replace(
            week,
            sessions=tuple(
                replace(one, distance_m=min(one.distance_m, 12_000.0))
                if (REQUEST.race.date - one.date).days <= 30 and one.role == "long"
                else one
                for one in week.sessions
            ),
        )
        for week in WEEKS
    )
    assert not advice(
        Situation(request=REQUEST, accepted=short, original=short, today=WEEKS[8].first_day, log=log((1,)))
    )


def test_with_nothing_missed_there_is_nothing_to_advise() -> None:
    run = tuple(done(one) for week in WEEKS[:8] for one in week.sessions if one.role != "strength")
    situation = Situation(request=REQUEST, accepted=WEEKS, original=WEEKS, today=WEEKS[8].first_day, log=run)
    assert not advice(situation)
    assert retold(situation) == WEEKS


@pytest.mark.parametrize("since", ["nothing", "a result"])
def test_a_break_of_two_weeks_counts_until_a_result_says_more(since: str) -> None:
    situation = accepted()
    raced: tuple[EditLine, ...] = ()
    if since == "a result":
        day = WEEKS[9].last_day
        raced = (edit("edit/result/1", do="result", on=day, date=day, distance="10 km", time="47:00"),)
    lost = long_break(replace(situation, edits=raced))
    assert (lost is None) == (since == "a result")
    assert lost is None or lost.days >= 21


def test_reasons_behind_a_break_speak_of_the_plan_as_it_stands() -> None:
    situation = accepted()
    week, was = retold(situation)[8], WEEKS[8]
    assert [replace(one, why="", reasons=()) for one in week.sessions] == [
        replace(one, why="", reasons=()) for one in situation.accepted[8].sessions
    ]
    said = {one.id: " ".join(say_in(reason.text, "km") for reason in one.reasons) for one in week.sessions}
    for one in week.sessions:
        if one.role in ("easy", "club", "long"):
            assert f"{was.phase.capitalize()} phase" not in one.why
            assert was.purpose not in said[one.id]
            assert "the aim was" not in said[one.id]
    easy = next(one for one in week.sessions if one.role == "easy" and not one.cancelled)
    total, long = f"{round(week.distance_m / 500) / 2:g} km", say_minutes(long_of(week).duration_s)
    assert f"It brings the week to {total}; it was laid out with" in said[easy.id]
    assert f"Beside a long run of {long} it would rather not pass 40 min" in said[easy.id]
