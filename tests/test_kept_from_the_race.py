"""What safety does not allow is planned nowhere: not in the race plan, nor in any file made from it."""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from planbuilder import delivery, living, pipeline
from planbuilder.block import read_block
from planbuilder.outputs.json_files import race_json
from planbuilder.outputs.terminal import race_text
from planbuilder.plan.types import Plan
from tests.accepted_half import DAY, FIRST, accepted_half, noon
from tests.outputs.test_json_files import schema

BLOCK = """
[race]
name = "Quayside 10"
date = 2027-05-16
timezone = "Europe/London"
distance = "10 km"
minimum_age = 16
point = [
  { distance = "0 km", elevation = "10 m" },
  { distance = "4 km", elevation = "12 m" },
  { distance = "5.5 km", elevation = "45 m" },
  { distance = "8 km", elevation = "15 m" },
  { distance = "10 km", elevation = "20 m" },
]
[training]
first_day = 2027-03-08
"""
RUNNER = """
[[runner]]
name = "Oskar L"
goal_time = "40:00"
results = [{ distance = "5 km", time = "19:40", date = 2027-02-20 }]
weekly_distance = "35 km"
longest_run = "10 km"
fast_minutes = 20
days = ["tuesday", "thursday", "saturday", "sunday"]
"""
OUT = {
    "too young for a block": 'age = 14\nscreening = "passed"\n',
    "too young for the organiser": 'age = 15\nscreening = "passed"\n',
    "not to run": 'age = 30\nscreening = "passed"\ninjuries = [{ place = "bone", pain = 3 }]\n',
}
EASY = {
    "not asked": "age = 62\n",
    "not cleared": 'age = 30\nscreening = "needed"\n',
    "sore": 'age = 30\nscreening = "passed"\ninjuries = [{ place = "other", pain = 3 }]\n',
}
CLOCK = re.compile(r"\b\d{2}:\d{2}\b|\b\d:\d{2}:\d{2}\b")


@pytest.fixture
def folder(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    (tmp_path / "block").mkdir()
    (tmp_path / "block" / "block.toml").write_text(BLOCK + RUNNER + request.param)
    return tmp_path / "block"


def _plan(folder: Path, **asked: Any) -> Plan:
    (plan,) = pipeline.plan_all(read_block(folder), **asked)
    return plan


def _files(folder: Path, out: Path) -> dict[str, str]:
    list(delivery.build(read_block(folder), out))
    return {path.name: path.read_text() for path in (out / "oskar-l").iterdir()}


@pytest.mark.parametrize("folder", OUT.values(), ids=OUT, indirect=True)
@pytest.mark.parametrize("goal_s", [None, 2400.0])
def test_a_race_that_is_not_run_has_no_plan_and_no_times(folder: Path, goal_s: float | None) -> None:
    plan = _plan(folder, goal_time_s=goal_s)
    data = race_json([plan])
    jsonschema.validate(json.loads(json.dumps(data)), schema("race"))
    (runner,) = data["runners"]
    assert runner["verdict"] == "left out"
    for name in ("finish_time_s", "goal_time_s", "predicted_time_s", "predicted_low_s", "predicted_high_s"):
        assert runner[name] is None
    for name in ("splits", "features", "plans", "adjustments", "notes"):
        assert runner[name] == []
    said = race_text(plan, system="km", width=78).split("\n", 1)[1]
    assert said.strip() == "This race is left out of the plan, so there are no times for it."


@pytest.mark.parametrize("folder", EASY.values(), ids=EASY, indirect=True)
@pytest.mark.parametrize("goal_s", [None, 2400.0])
def test_who_may_only_run_easily_gets_a_race_at_easy_effort_without_a_clock(
    folder: Path, goal_s: float | None
) -> None:
    plan = _plan(folder, goal_time_s=goal_s)
    race = plan.race_plan
    assert race.finish_time_s is None
    assert race.goal.verdict == "easy running only"
    assert not race.outcomes
    assert not race.decisions
    rows = (*race.features, *race.splits_km, *race.splits_mi, *race.splits_5k)
    assert race.features
    for row in rows:
        assert row.effort_rpe == (2.0, 4.0)  # the effort of an easy run: common practice, no source
        assert (row.time_s, row.clock_s, row.pace_s_per_km, row.cost_s) == (None,) * 4
    session = plan.race_session
    assert session is not None
    assert max(step.effort_rpe[1] for step in session.steps) == 4.0
    said = race_text(plan, system="km", width=78)
    assert not CLOCK.search(said)
    words = " ".join(
        [said, *race.cues, *race.lay_out, race.first_minutes, *(one.words for one in race.evening)]
    )
    for not_said in ("Run a test", "test in", "stride", "Nothing to save", "Now it is work", "splits for"):
        assert not_said not in words
    jsonschema.validate(json.loads(json.dumps(race_json([plan]))), schema("race"))


@pytest.mark.parametrize("folder", [*OUT.values(), *EASY.values()], ids=[*OUT, *EASY], indirect=True)
def test_no_file_holds_the_time_that_form_points_to(folder: Path, tmp_path: Path) -> None:
    files = _files(folder, tmp_path / "out")
    jsonschema.validate(json.loads(files["plan.json"]), schema("plan"))
    for name in ("plan.html", "race-card.html", "plan.ics", "plan.csv"):
        for time in ("41:2", "41:1", "41:3", "40:00", "Plan A", "plan B"):
            assert time not in files[name], (name, time)


@pytest.mark.parametrize("folder", EASY.values(), ids=EASY, indirect=True)
def test_the_page_and_the_card_show_the_easy_race(folder: Path, tmp_path: Path) -> None:
    files = _files(folder, tmp_path / "out")
    assert 'id="race-plan"' in files["plan.html"]
    assert "Start at the back" in files["race-card.html"]


@pytest.mark.parametrize("folder", [OUT["too young for a block"]], indirect=True)
def test_the_page_of_who_is_too_young_for_a_block_has_no_table_of_weeks(folder: Path, tmp_path: Path) -> None:
    files = _files(folder, tmp_path / "out")
    assert json.loads(files["plan.json"])["weeks"] == []
    for part in ('id="block"', 'id="weeks"', 'id="paces"', "<table"):
        assert part not in files["plan.html"]
    (note,) = json.loads(files["plan.json"])["notes"]
    assert note["rule"] == "safety.youngest"


@pytest.mark.parametrize("folder", [OUT["too young for a block"]], indirect=True)
def test_a_plan_without_weeks_can_be_accepted_and_asked_again(folder: Path) -> None:
    delivery.accept_as_they_stand(read_block(folder), now=dt.datetime(2027, 3, 8, 12, tzinfo=dt.UTC))
    (found,) = living.propose(read_block(folder), today=dt.date(2027, 4, 5))
    assert found.stands
    assert _plan(folder).weeks == ()


def test_an_age_limit_told_in_mid_block_is_one_plain_breach_until_a_re_plan(tmp_path: Path) -> None:
    """The accepted weeks lead to a race: they are judged by that, and the race is what is wrong."""
    folder = accepted_half(tmp_path)
    text = (folder / "block.toml").read_text()
    (folder / "block.toml").write_text(text.replace("[race]\n", "[race]\nminimum_age = 90\n", 1), "utf-8")
    ((plan, breaches),) = pipeline.check_block(read_block(folder))
    assert [(one.rule, one.session, one.text) for one in breaches] == [
        (
            "safety.minor",
            "w12-race",
            "The organiser's youngest age for this race is 90, and the runner is 38; a re-plan leaves the "
            "race out.",
        )
    ]
    said = " ".join(note.text for note in plan.notes)
    assert "Until a re-plan the weeks still hold the race" in said
    assert not [note for note in plan.notes if note.kind == "given_up"]
    assert not re.search(r"\d{4,} %|\d\d,\d{3} days", said)
    today = FIRST + 50 * DAY
    block = read_block(folder)
    living.accept(block, list(living.propose(block, today=today)), by="replan", today=today, now=noon(today))
    ((plan, breaches),) = pipeline.check_block(read_block(folder))
    assert plan.race_session is None
    assert not breaches
