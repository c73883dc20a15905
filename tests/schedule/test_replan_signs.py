"""Signs of too much: short nights, heavy legs, sessions that go badly, days a runner wants easy.

Two bad sessions, two easy days and the hold after short nights are common coaching practice, no source; the
seven hours of sleep are those of Johnston et al. 2019/20 (endurance athletes, more new injuries 14 days
later).
"""

from __future__ import annotations

import datetime as dt
from itertools import pairwise

import pytest

from planbuilder.plan.types import Session
from planbuilder.rules.context import top_rpe
from tests.schedule.random_histories import done, edit
from tests.schedule.test_replan import DAY, WEEKS, ahead, ask, first, sessions


def short_nights(last: dt.date, nights: int, hours: float) -> dict[str, object]:
    return {"on": last, "from": last - (nights - 1) * DAY, "to": last, "hours": hours}


def rising_week() -> dt.date:
    """The Monday of a loaded week that holds more than the one before it."""
    return next(two.first_day for one, two in pairwise(WEEKS)
                if two.distance_m > one.distance_m + 500 and not one.recovery and two.number > 3)  # fmt: skip


def test_after_two_weeks_of_short_nights_the_distance_does_not_rise() -> None:
    today = rising_week()
    line = edit("edit/tired/ines-a/1", do="tired", **short_nights(today - DAY, 14, 6.5))
    answer = ask(today, edits=[line])
    level = next(week.distance_m for week in WEEKS if week.last_day == today - DAY)
    for week in answer.weeks:
        if today <= week.first_day < today + 14 * DAY:
            assert week.distance_m <= level + 1
    assert any(why.rule == "adapt.short_sleep" for change in answer.changes for why in change.why)


@pytest.mark.parametrize(("nights", "hours"), [(14, 7.0), (13, 6.5), (14, None)])
def test_enough_sleep_or_fewer_nights_hold_nothing_back(nights: int, hours: float | None) -> None:
    today = rising_week()
    values = {key: value for key, value in short_nights(today - DAY, nights, hours or 0.0).items()
              if key != "hours" or hours is not None}  # fmt: skip
    answer = ask(today, edits=[edit("edit/tired/ines-a/1", do="tired", **values)])
    assert not any(why.rule == "adapt.short_sleep" for change in answer.changes for why in change.why)


@pytest.mark.parametrize(("worn", "easy"), [(False, 1), (True, 2)])
def test_heavy_legs_and_low_mood_make_two_days_easy_and_one_bad_night_one(worn: bool, easy: int) -> None:
    """Heavy legs, low mood and poor sleep together: two easy days; one short night: that day alone."""
    day_before = [one for one in sessions(WEEKS) if one.hard and one.role == "club"][3].date - DAY
    line = edit("edit/tired/ines-a/1", do="tired", on=day_before, worn=worn, **{"from": day_before})
    answer = ask(day_before, edits=[line])
    club = next(one for one in ahead(answer, day_before, 2) if one.role == "club")
    assert club.hard == (easy == 1)


def badly(number: int) -> tuple[dt.date, list[Session]]:
    """The day after the last of so many sessions of one kind that were much harder than planned."""
    kinds: dict[str, list[Session]] = {}
    for one in sessions(WEEKS):
        if one.hard and one.role not in ("race", "tune_up"):
            same = kinds.setdefault(one.kind, [])
            same.append(one)
            if len(same) == 2 and any(two.hard and one.date < two.date <= one.date + 3 * DAY
                                      for two in sessions(WEEKS)):  # fmt: skip
                return one.date + DAY, same[2 - number :]
    raise AssertionError("no kind comes twice with a hard session soon after")


def test_two_bad_sessions_of_a_kind_in_a_row_bring_easy_days_and_a_question() -> None:
    today, pair = badly(2)
    log = [done(one, effort_rpe=min(top_rpe(one) + 2, 10.0)) for one in pair]
    answer = ask(today, log=log)
    assert not any(one.hard for one in ahead(answer, today, 3))
    assert any(note.rule == "adapt.bad_session" for note in answer.notes)
    assert not any("pace" in why.text for change in answer.changes for why in change.why)


def test_a_session_that_was_broken_off_counts_as_a_bad_one() -> None:
    today, pair = badly(2)
    hard = done(pair[0], effort_rpe=min(top_rpe(pair[0]) + 2, 10.0))
    whole, part = (ask(today, log=[hard, done(pair[1], went=went)]) for went in ("done", "part"))
    assert not any(note.rule == "adapt.bad_session" for note in whole.notes)
    assert any(note.rule == "adapt.bad_session" for note in part.notes)


def test_one_bad_session_is_no_result() -> None:
    today, pair = badly(1)
    log = [done(one, effort_rpe=min(top_rpe(one) + 2, 10.0)) for one in pair]
    answer = ask(today, log=log)
    assert not answer.changes
    assert not answer.notes


def test_days_that_a_runner_wants_easy_are_easy_and_nothing_else_changes() -> None:
    club = next(one for one in sessions(WEEKS) if one.hard and one.date >= first(5))
    line = edit("edit/easy/ines-a/1", do="easy", on=first(5), **{"from": club.date, "to": club.date})
    answer = ask(first(5), edits=[line])
    assert not next(one for one in sessions(answer.weeks) if one.id == club.id).hard
    assert {change.before.id for change in answer.changes if change.before and change.before.date <= club.date
            } == {club.id}  # fmt: skip
