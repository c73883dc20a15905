"""A race whose day is moved: the load comes back in steps, and the old day is no race any more.

That a first week back holds at most 80 % is common coaching practice, no source; below which week it holds is
our choice (``load.way_back``).
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from planbuilder import living, pipeline
from planbuilder.block import read_block
from planbuilder.block.history import STATE_FOLDER, read_history
from planbuilder.block.log_table import LogLine
from planbuilder.living import Proposal
from planbuilder.plan.types import Week
from planbuilder.settings.models import RaceSettings
from tests.accepted_half import WHO, accepted_half, noon

RACE = dt.date(2027, 5, 23)
MONDAY = dt.date(2027, 5, 24)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return accepted_half(tmp_path)


def move_race(folder: Path, day: dt.date) -> None:
    path = folder / "block.toml"
    path.write_text(path.read_text().replace(f"date = {RACE}", f"date = {day}"))


def accept(folder: Path, today: dt.date) -> Proposal:
    (found,) = living.propose(read_block(folder), today=today)
    living.accept(read_block(folder), [found], by="replan", today=today, now=noon(today))
    return found


def weeks_now(folder: Path) -> tuple[Week, ...]:
    plan = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert plan is not None
    return plan.weeks


def miss(folder: Path, first: dt.date, last: dt.date) -> None:
    lost = [one for week in weeks_now(folder) for one in week.sessions if first <= one.date <= last]
    living.add_to_log(
        folder, [LogLine(date=str(one.date), runner=WHO, session=one.id, went="missed") for one in lost]
    )


def km(weeks: tuple[Week, ...], first_day: dt.date) -> float:
    return next(week.distance_m for week in weeks if week.first_day == first_day) / 1000


def test_behind_a_race_week_without_its_race_the_load_comes_back_in_a_step(folder: Path) -> None:
    weeks = weeks_now(folder)
    before = max(km(weeks, MONDAY - dt.timedelta(weeks=back)) for back in (2, 3, 4))
    move_race(folder, RACE + dt.timedelta(weeks=4))
    found = accept(folder, MONDAY)
    assert not found.answer.breaches
    now = weeks_now(folder)
    assert km(now, MONDAY - dt.timedelta(weeks=1)) < 0.45 * before
    assert 0.6 * before < km(now, MONDAY) <= 0.8 * before + 0.1
    assert km(now, MONDAY + dt.timedelta(weeks=1)) <= before + 4
    (again,) = living.propose(read_block(folder), today=MONDAY)
    assert again.stands


def test_the_less_was_run_the_less_comes_next(folder: Path) -> None:
    """Two runs of the last week alone: what a coach's check must not let pass is a jump to the whole load."""
    miss(folder, MONDAY - dt.timedelta(days=5), RACE)
    move_race(folder, RACE + dt.timedelta(weeks=4))
    found = accept(folder, MONDAY)
    assert not found.answer.breaches
    assert km(weeks_now(folder), MONDAY) <= 0.8 * 48.2 + 0.1


def test_the_day_a_race_was_moved_from_is_no_race_that_was_run(folder: Path) -> None:
    move_race(folder, RACE + dt.timedelta(weeks=4))
    accept(folder, MONDAY)
    (again,) = living.propose(read_block(folder), today=MONDAY + dt.timedelta(days=1))
    assert again.stands
    races = [one for week in weeks_now(folder) for one in week.sessions if one.role == "race"]
    assert [one.date for one in races] == [RACE, RACE + dt.timedelta(weeks=4)]


def test_a_start_that_the_clocks_show_twice_is_said_to_be_the_first() -> None:
    """Lisbon, last Sunday of October: 02:00 becomes 01:00 (the European summer time directive)."""
    told = {"name": "Half", "distance": "half marathon", "timezone": "Europe/Lisbon", "start_time": "01:30"}
    (note,) = pipeline.start_notes(RaceSettings.model_validate({**told, "date": "2027-10-31"}))
    assert "show 01:30 twice; the race starts at the first of the two" in note.text
    assert not list(pipeline.start_notes(RaceSettings.model_validate({**told, "date": "2027-10-30"})))
