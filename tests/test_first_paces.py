"""A runner without a fresh result enters one: paces come and nothing else changes. A real block folder."""

from __future__ import annotations

import datetime as dt
import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.block.history import HISTORY_FILE, STATE_FOLDER, read_history
from planbuilder.block.log_table import LogLine
from planbuilder.plan.types import Session
from planbuilder.settings.problems import InputProblems
from tests.accepted_half import DAY, WHO, accept_first, copied_half, noon

TODAY = dt.date(2027, 3, 30)
RESULT = 'results = [{ distance = "10 km", time = "46:30", date = 2027-02-14 }]'


@pytest.fixture(params=["no result", "an old result"])
def folder(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """A block whose plan was accepted on its first day, for a runner who trains by effort."""
    folder = copied_half(tmp_path)
    path, old = folder / "block.toml", RESULT.replace("2027-02-14", "2026-08-01")
    assert RESULT in path.read_text()
    path.write_text(path.read_text().replace(RESULT, old if request.param == "an old result" else ""))
    accept_first(folder)
    return folder


def sessions(folder: Path) -> dict[str, Session]:
    accepted = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert accepted is not None
    return {one.id: one for week in accepted.weeks for one in week.sessions}


def pages(folder: Path, out: Path) -> dict[str, bytes]:
    list(delivery.build(read_block(folder), out))
    return {
        path.relative_to(out).as_posix(): path.read_bytes()
        for path in sorted(out.rglob("*"))
        if path.is_file() and path.name != "coach.json"
    }


def race(folder: Path, *, today: dt.date = TODAY, time: str = "47:00") -> None:
    values = {
        "do": "result",
        "runner": WHO,
        "on": today,
        "date": today - 2 * DAY,
        "distance": "10 km",
        "time": time,
    }
    living.edit(folder, values, today=today, now=noon(today))


def replan(folder: Path, today: dt.date = TODAY) -> living.Proposal:
    block = read_block(folder)
    (found,) = living.propose(block, today=today)
    living.accept(block, [found], by="replan", today=today, now=noon(today))
    return found


def plain(one: Session) -> Session:
    """The session without its paces and reasons."""
    steps = tuple(replace(step, pace_s_per_km=None) for step in one.steps)
    return replace(one, steps=steps, reasons=())


def has_paces(one: Session) -> bool:
    return any(step.pace_s_per_km is not None for step in one.steps)


def test_sessions_from_today_on_get_paces_and_keep_day_dose_and_steps(folder: Path) -> None:
    before = sessions(folder)
    assert not any(map(has_paces, before.values()))
    race(folder)
    found = replan(folder)
    after = sessions(folder)
    assert [plain(one) for one in after.values()] == [plain(one) for one in before.values()]
    assert {id_: one for id_, one in after.items() if one.date < TODAY} == {
        id_: one for id_, one in before.items() if one.date < TODAY
    }
    easy = [one for one in after.values() if one.date >= TODAY and one.kind in ("easy_run", "long_run")]
    assert easy
    assert all(map(has_paces, easy))
    (said,) = {why.text for change in found.answer.changes for why in change.why}
    assert re.match(
        r"Your paces now come from your 10 km in 47:00, corrected for its course and weather: "
        r"easy \{pb:.*?\}, threshold \{pb:.*?\}, race effort \{pb:.*?\}\.",
        said,
    )


def test_no_page_speaks_of_a_missing_result_any_more(folder: Path, tmp_path: Path) -> None:
    there = ("No result", "Old result", "until the test on")

    def said(out: Path) -> list[str]:
        shown = pages(folder, out)
        text = b"".join(shown[name] for name in ("coach.html", "maren-t/plan.html", "maren-t/race-card.html"))
        return [words for words in there if words in text.decode()]

    assert len(said(tmp_path / "one")) == 2
    race(folder)
    replan(folder)
    assert said(tmp_path / "two") == []
    (plan,) = pipeline.plan_all(read_block(folder))
    assert plan.form.results[-1].words.endswith("it sets your paces.")
    assert plan.race_plan.goal.predicted_time_s is not None


def test_asked_again_nothing_changes_and_undo_restores_the_bytes(folder: Path, tmp_path: Path) -> None:
    before = pages(folder, tmp_path / "one")
    race(folder)
    assert pages(folder, tmp_path / "two") == before
    replan(folder)
    after, kept = pages(folder, tmp_path / "three"), (folder / STATE_FOLDER / HISTORY_FILE).read_bytes()
    assert after != before
    assert replan(folder).stands
    assert replan(folder, TODAY + 9 * DAY).stands
    assert (folder / STATE_FOLDER / HISTORY_FILE).read_bytes() == kept
    assert pages(folder, tmp_path / "four") == after
    living.undo(folder, only=None, today=TODAY, now=noon(TODAY))
    assert pages(folder, tmp_path / "five") == before


def test_a_time_trial_and_a_tune_up_in_the_log_are_results(folder: Path) -> None:
    """A line that holds more than the measured 3000 m says nothing of the trial."""
    trial = next(one for one in sessions(folder).values() if one.kind == "test")
    day = trial.date.isoformat()
    living.add_to_log(folder, [LogLine(day, WHO, trial.id, distance="9 km", time="52:00")])
    (asked,) = living.propose(read_block(folder), today=trial.date + DAY)
    (offer,) = asked.answer.offers
    assert f'result --runner "{WHO}" --distance "3000 m" --time MM:SS --date {day}' in offer.text
    assert not replan(folder).answer.changes
    living.add_to_log(folder, [LogLine(day, WHO, trial.id, distance="3 km", time="12:30")])
    found = replan(folder)
    assert not found.answer.offers
    assert any("from your 3 km in 12:30" in why.text for one in found.answer.changes for why in one.why)
    (now,) = pipeline.plans_now(read_block(folder))
    assert now.told.run[2].distance_m == pytest.approx(trial.distance_m, abs=1)  # the warm-up was run too
    living.add_to_log(folder, [LogLine("2027-04-25", WHO, "w08-tune-up", time="49:30")])
    later = replan(folder, dt.date(2027, 4, 27))
    assert any("Your 10 km in 49:30" in why.text for one in later.answer.changes for why in one.why)
    accepted = read_history(folder / STATE_FOLDER).accepted("maren-t")
    assert accepted is not None
    assert accepted.basis.source is not None
    assert (accepted.basis.source.distance_m, accepted.basis.source.date) == (3000.0, day)


def test_a_result_that_is_taken_back_by_hand_takes_its_paces_along(folder: Path) -> None:
    before = sessions(folder)
    race(folder)
    replan(folder)
    (folder / "edits.toml").unlink()
    found = replan(folder)
    assert [plain(one) for one in sessions(folder).values()] == [plain(one) for one in before.values()]
    assert not any(map(has_paces, sessions(folder).values()))
    (said,) = {why.text for change in found.answer.changes for why in change.why}
    assert "sessions go by effort again" in said


def test_a_history_from_before_results_could_set_paces_is_read(folder: Path) -> None:
    path = folder / STATE_FOLDER / HISTORY_FILE
    line = json.loads(path.read_text())
    del line["basis"]["source"]
    path.write_text(json.dumps(line) + "\n")
    race(folder)
    assert len([one for one in replan(folder).answer.changes if one.after and has_paces(one.after)]) > 20


def test_a_result_may_name_the_file_of_its_course_and_one_that_is_not_there_is_told_of(folder: Path) -> None:
    """The half of this block climbs late: the same time over it is worth more than on the flat."""
    times = {}
    for course in ("flat", "course.gpx"):
        values = {"do": "result", "runner": WHO, "on": TODAY, "date": TODAY - 2 * DAY,
                  "distance": "half marathon", "time": "1:46:00", "course": course}  # fmt: skip
        living.edit(folder, values, today=TODAY, now=noon(TODAY))
        (found,) = living.propose(read_block(folder), today=TODAY)
        assert found.accepted.basis.source is not None
        assert found.accepted.basis.source.course == course
        times[course] = found.times[0]
        (folder / "edits.toml").unlink()
    assert times["course.gpx"] < times["flat"]
    for course, said in (
        ("hily", '"hily" is not there'),
        ("../course.gpx", "must be inside the block folder"),
    ):
        with pytest.raises(InputProblems, match=said):
            living.edit(folder, {**values, "course": course}, today=TODAY, now=noon(TODAY))
    assert not (folder / "edits.toml").exists()
