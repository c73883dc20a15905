"""After one poor night a hard session may change days with the next easy one: common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from planbuilder.plan.types import Session
from planbuilder.schedule import make_schedule
from planbuilder.schedule.replan import EditLine, Situation, edit_only, replan
from tests.schedule.builders import request_of
from tests.schedule.random_histories import edit
from tests.schedule.test_replan import DAY, sessions
from tests.schedule.test_replan_properties import MAREN

ALONE = {**MAREN, "training": {}}
CLUB, CLUB_WEEKS = request_of(**MAREN), make_schedule(request_of(**MAREN)).all_weeks
REQUEST = request_of(**ALONE)
WEEKS = make_schedule(REQUEST).all_weeks
HARD = [one for one in sessions(WEEKS) if one.hard and one.role not in ("race", "tune_up")]


def tired(session: Session, **more: Any) -> EditLine:
    return edit("edit/tired/ines-a/1", do="tired", on=session.date, **{"from": session.date, **more})


def that_morning(session: Session, *edits: EditLine) -> Situation:
    return Situation(request=REQUEST, accepted=WEEKS, original=WEEKS, today=session.date, edits=edits)


def offered() -> list[tuple[Session, Situation, str]]:
    found = []
    for session in HARD:
        situation = that_morning(session, tired(session))
        for offer in replan(situation).offers:
            assert offer.rule == "adapt.tired_days"
            found.append((session, situation, offer.text))
    return found


def test_some_hard_sessions_of_this_plan_can_change_days_and_not_all() -> None:
    assert 0 < len(offered()) < len(HARD)


def test_a_club_night_keeps_its_day() -> None:
    nights = [one for one in sessions(CLUB_WEEKS) if one.hard and one.role == "club"]
    assert nights
    for night in nights:
        situation = Situation(request=CLUB, accepted=CLUB_WEEKS, original=CLUB_WEEKS, today=night.date,
                              edits=(tired(night),))  # fmt: skip
        assert not replan(situation).offers


def test_who_says_nothing_runs_the_session_easily() -> None:
    for session, situation, _ in offered():
        after = next(one for one in sessions(replan(situation).weeks) if one.id == session.id)
        assert after.date == session.date
        assert not after.hard


def test_the_words_of_the_offer_move_the_session_a_day_and_break_no_rule() -> None:
    for session, situation, text in offered():
        words = text.split("planbuilder edit BLOCK ")[1].rstrip(".").split()
        assert words[1] == "--with"
        line = edit("edit/swap/ines-a/1", do="swap", on=session.date, session=words[0], **{"with": words[2]})
        taken = edit_only(replace(situation, edits=(*situation.edits, line)))
        assert not taken.breaches
        now = {one.id: one for one in sessions(taken.weeks)}
        assert now[words[0]].date == session.date + DAY
        assert now[words[0]].hard
        assert now[words[2]].date == session.date
        later = replace(situation, accepted=taken.weeks, edits=(*situation.edits, line),
                        answered=frozenset({line.line}))  # fmt: skip
        assert not replan(later).changes
        assert not replan(later).offers


@pytest.mark.parametrize("more", [{"worn": True}, {"to": 1}], ids=["worn out", "two nights"])
def test_more_than_one_poor_night_brings_easy_days_and_no_offer(more: dict[str, Any]) -> None:
    for session, _, _ in offered():
        said = {"to": session.date + DAY} if "to" in more else more
        assert not replan(that_morning(session, tired(session, **said))).offers


def test_a_runner_who_is_ill_or_sore_besides_is_offered_nothing() -> None:
    for session, _, _ in offered():
        sore = edit("edit/niggle/ines-a/1", do="niggle", on=session.date, place="other", pain=4,
                    **{"from": session.date})  # fmt: skip
        assert not replan(that_morning(session, tired(session), sore)).offers


def test_an_offer_says_nothing_of_the_night() -> None:
    for _, _, text in offered():
        assert not {"sleep", "night", "tired", "slept"} & set(text.lower().split())
