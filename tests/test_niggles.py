"""A sore place from the first word of it to the last: who is asked, for how long, and how the asking ends.

That a coach asks after each run, and defers to a licensed practitioner, is common practice, no source; for
how long is our choice within it (``adapt.pain_days``).
"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.edits import read_edits
from planbuilder.block.log_table import LogLine
from planbuilder.outputs.squad import squad_row
from planbuilder.plan.types import Session
from planbuilder.rules.context import is_training_run
from planbuilder.settings.edit_models import Niggle
from tests.accepted_half import DAY, WHO, accepted_half, noon
from tests.test_cli import run

TOLD = dt.date(2027, 4, 6)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return accepted_half(tmp_path)


def asked(folder: Path, today: dt.date) -> str:
    """What the coach is to ask of sore places; what re-planning changes is let hold."""
    (found,) = living.propose(read_block(folder), today=today)
    living.accept(read_block(folder), [found], by="replan", today=today, now=noon(today))
    return " ".join(note.text for note in found.answer.private_notes)


def told(folder: Path, pain: int, day: dt.date = TOLD) -> None:
    line = LogLine(str(day), WHO, pain=str(pain), where="calf", distance="6 km")
    living.add_to_log(folder, [line], today=day)


def edited(folder: Path, today: dt.date, *words: str) -> str:
    said = run("edit", folder, "niggle", *words, "--today", str(today))
    assert said.returncode == 0, said.stderr
    return said.stdout


def test_pain_of_one_run_is_asked_after_for_a_week_once_more_by_the_next_and_then_no_more(
    folder: Path,
) -> None:
    told(folder, 3)
    said = (
        "calf, 3/10 on 2027-04-06. Ask after each run until 2027-04-13, and once by 2027-04-20 whether it is"
    )
    assert said in asked(folder, TOLD)
    assert said in asked(folder, TOLD + 14 * DAY)
    assert "calf" not in asked(folder, TOLD + 15 * DAY)


def test_the_coachs_page_asks_no_longer_once_the_runner_has_run_on(folder: Path) -> None:
    told(folder, 3)
    asked(folder, TOLD)

    def page() -> list[str]:
        (now,) = pipeline.plans_now(read_block(folder))
        return [note.text for note in now.plan.private_notes if "calf" in note.text]

    assert page()
    living.add_to_log(folder, [LogLine(str(TOLD + 21 * DAY), WHO, distance="6 km")], today=TOLD + 21 * DAY)
    assert not page()


def test_a_trifle_is_asked_after_for_a_week(folder: Path) -> None:
    told(folder, 2)
    assert "calf, 2/10" in asked(folder, TOLD + 7 * DAY)
    assert "calf" not in asked(folder, TOLD + 8 * DAY)


def test_pain_that_stops_running_is_asked_after_until_a_practitioner_has_cleared_it(folder: Path) -> None:
    told(folder, 6)
    later = asked(folder, TOLD + 20 * DAY)
    assert "No running until a licensed practitioner has looked at it" in later
    words = ("--place", "calf", "--pain", "0", "--cleared", "2027-04-26")
    assert " ".join(words[:-1]) in later
    edited(folder, TOLD + 20 * DAY, *words)
    assert "calf, 6/10" not in asked(folder, TOLD + 21 * DAY)


def test_a_niggle_stays_open_and_its_note_says_the_words_that_end_it(folder: Path) -> None:
    said = edited(folder, TOLD, "--place", "calf", "--pain", "3")
    ending = f'niggle --runner "{WHO}" --place calf --to'
    assert f"When it is over: planbuilder edit {folder} {ending}" in said
    assert f"When it is gone: planbuilder edit BLOCK {ending}" in asked(folder, TOLD + 5 * DAY)
    edited(folder, TOLD + 6 * DAY, "--place", "calf", "--to", "2027-04-09")
    last = [one.line.edit for one in read_edits(read_block(folder))][-1]
    assert isinstance(last, Niggle)
    assert (last.first_day, last.last_day, last.pain) == (TOLD, dt.date(2027, 4, 9), 3)
    assert "once by 2027-04-23 whether it is gone" in asked(folder, TOLD + 11 * DAY)
    weeks_later = asked(folder, TOLD + 30 * DAY)
    assert "calf" not in weeks_later
    assert "No running" not in weeks_later


def test_the_end_of_another_place_is_not_the_end_of_this_one(folder: Path) -> None:
    edited(folder, TOLD, "--place", "calf", "--pain", "3")
    said = run("edit", folder, "niggle", "--place", "knee", "--to", "2027-04-09", "--today", "2027-04-10")
    assert said.returncode == 2
    assert "pain must be given" in said.stderr


def _ahead(folder: Path) -> list[Session]:
    (plan,) = pipeline.plan_all(read_block(folder))
    return [one for one in plan.sessions if one.date > TOLD and is_training_run(one) and not one.cancelled]


def test_until_a_practitioner_has_cleared_it_every_run_ahead_says_to_ask_first(folder: Path) -> None:
    """Five of ten: no running until the runner is cleared, and silence is no clearance (common practice)."""
    told(folder, 5)
    for accepted in (False, True):
        if accepted:
            asked(folder, TOLD)
        runs = _ahead(folder)
        assert len(runs) > 15
        assert all(one.title.startswith("Ask first: ") for one in runs)
        assert all(one.caution.startswith("Ask your coach before you run this.") for one in runs)
        (row,) = (squad_row(plan) for plan in pipeline.plan_all(read_block(folder)))
        shown = [one for one in row.entries if one.date > TOLD and not one.race]
        assert not any("Ask first" in one.title for one in shown), "nothing of health is on the board"
    day = TOLD + 10 * DAY
    words = ("--runner", WHO, "--place", "calf", "--pain", "0", "--cleared", str(day), "--from", str(day))
    edited(folder, day, *words)
    assert not any(one.title.startswith("Ask first") for one in _ahead(folder))


def test_a_pain_to_ease_for_asks_for_nothing_before_a_run(folder: Path) -> None:
    told(folder, 3)
    assert not any(one.title.startswith("Ask first") for one in _ahead(folder))


def test_the_marks_follow_what_is_told_now(folder: Path) -> None:
    """A smaller pain told later is no clearance; what is taken back was never told."""

    def marked() -> bool:
        runs = _ahead(folder)
        found = {one.title.startswith("Ask first: ") for one in runs if one.date > day}
        assert len(found) == 1
        return found.pop()

    day = TOLD + 10 * DAY
    told(folder, 6)
    edited(folder, TOLD + 4 * DAY, "--place", "calf", "--pain", "1")
    assert marked()
    assert "--pain 0 --cleared YYYY-MM-DD" in asked(folder, TOLD + 4 * DAY)
    edited(folder, day, "--place", "calf", "--pain", "0", "--cleared", str(day))
    assert not marked()
    assert run("undo", folder, "--today", str(day)).returncode == 0
    assert marked()
    (folder / "log.csv").unlink()
    assert not marked()


def test_the_coachs_page_shows_commands_with_the_name_of_the_folder(folder: Path, tmp_path: Path) -> None:
    here = folder.rename(tmp_path / "spring half")
    told(here, 6)
    list(delivery.build(read_block(here), tmp_path / "out"))
    page = (tmp_path / "out" / "coach.html").read_text()
    assert "planbuilder edit &#39;spring half&#39; niggle --runner" in page
    assert "BLOCK" not in page


def test_forgetting_a_stop_says_that_its_mark_goes(folder: Path) -> None:
    told(folder, 6)
    said = run("forget", folder, WHO, "--yes")
    assert (
        f"What waited for a clearance is not marked any more: ask {WHO} before the next run." in said.stdout
    )
