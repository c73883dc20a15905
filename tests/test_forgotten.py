"""After health notes are forgotten the accepted plan stands: what they said is not needed any more."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from planbuilder import living, pipeline
from planbuilder.block import read_block
from planbuilder.block.history import HISTORY_FILE, STATE_FOLDER, read_history
from planbuilder.block.log_table import LogLine
from planbuilder.settings.problems import InputProblems
from tests.accepted_half import DAY, WHO, accepted_half, noon

TODAY = dt.date(2027, 4, 14)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return accepted_half(tmp_path)


def edit(folder: Path, **values: object) -> None:
    said = {key.rstrip("_"): value for key, value in values.items()}
    living.edit(folder, {**said, "runner": WHO, "on": TODAY}, today=TODAY, now=noon(TODAY))


def propose(folder: Path, today: dt.date) -> living.Proposal:
    (found,) = living.propose(read_block(folder), today=today)
    return found


def accept(folder: Path, found: living.Proposal, today: dt.date) -> None:
    living.accept(read_block(folder), [found], by="replan", today=today, now=noon(today))


def a_niggle(folder: Path) -> None:
    edit(folder, do="niggle", from_=TODAY - DAY, place="achilles", pain=4)


def a_stop(folder: Path) -> None:
    edit(folder, do="niggle", from_=TODAY - DAY, place="achilles", pain=6)


def a_long_stop(folder: Path) -> None:
    edit(folder, do="niggle", from_=TODAY - 9 * DAY, to=TODAY + 9 * DAY, place="achilles", pain=6)


def a_word_of_pain_in_the_log(folder: Path) -> None:
    living.add_to_log(
        folder, [LogLine("2027-04-13", WHO, "w07-club", effort="7", pain="3", where="achilles")]
    )


def a_fever(folder: Path) -> None:
    edit(folder, do="ill", from_=TODAY - 2 * DAY, to=TODAY + DAY, fever=True)


TOLD = (a_niggle, a_stop, a_long_stop, a_word_of_pain_in_the_log, a_fever)


@pytest.mark.parametrize("tell", TOLD, ids=lambda tell: tell.__name__)
def test_after_forgetting_re_planning_asks_for_nothing_more(
    folder: Path, tell: Callable[[Path], None]
) -> None:
    tell(folder)
    accepted = propose(folder, TODAY)
    assert accepted.answer.changes
    accept(folder, accepted, TODAY)
    (before,) = pipeline.plans_now(read_block(folder))
    assert not list(living.moved_away(read_block(folder)))
    assert sum(living.forget(folder, WHO, everything=False, now=noon(TODAY)).values()) == 1
    assert not list(living.moved_away(read_block(folder)))
    for later in (0, 1, 7):
        assert propose(folder, TODAY + later * DAY).answer.changes == ()
    found = propose(folder, TODAY)
    accept(folder, found, TODAY)
    (after,) = pipeline.plans_now(read_block(folder))
    assert after.weeks == before.weeks
    assert propose(folder, TODAY + 7 * DAY).stands


def test_what_the_history_keeps_of_it_is_days_and_the_line_they_answer(folder: Path) -> None:
    a_stop(folder)
    accept(folder, propose(folder, TODAY), TODAY)
    kept = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert kept is not None
    assert [(one.first, one.no_running) for one in kept.held] == [(TODAY - DAY, True)]
    assert "achilles" not in (folder / STATE_FOLDER / HISTORY_FILE).read_text().lower()
    living.undo(folder, only=None, today=TODAY, now=noon(TODAY))
    back = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert back is not None
    assert back.held == ()


def test_what_was_accepted_before_forgetting_can_still_be_taken_back_with_its_edit(folder: Path) -> None:
    (before,) = pipeline.plans_now(read_block(folder))
    a_word_of_pain_in_the_log(folder)
    edit(folder, do="skip", session="w08-easy")
    assert living.forget(folder, WHO, everything=False, now=noon(TODAY))["log.csv"] == 1
    living.undo(folder, only=None, today=TODAY, now=noon(TODAY))
    assert not (folder / "edits.toml").exists()
    (after,) = pipeline.plans_now(read_block(folder))
    assert after.weeks == before.weeks
    with pytest.raises(InputProblems, match="there must be a change to take back"):
        living.undo(folder, only=None, today=TODAY, now=noon(TODAY))


def test_news_that_was_not_answered_is_still_news_after_forgetting(folder: Path) -> None:
    a_fever(folder)
    living.add_to_log(folder, [LogLine("2027-04-13", WHO, "w07-club", went="missed")])
    living.forget(folder, WHO, everything=False, now=noon(TODAY))
    assert len(list(living.moved_away(read_block(folder)))) == 1
