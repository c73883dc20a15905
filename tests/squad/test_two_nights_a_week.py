"""A squad with two club nights a week and few other days: real plans, and no limit broken."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from planbuilder import pipeline
from planbuilder.block import read_block
from planbuilder.plan.types import Plan
from planbuilder.rules import Breach
from planbuilder.units import say_minutes
from tests.squad.squads import rows_of, write_roster, write_squad

EASY = ("easy_run", "group_easy", "strides", "hill_sprints", "recovery_run")
BLOCK = """
[race]
name = "Heron Hill Ten"
date = 2027-03-14
start_time = "10:30"
timezone = "Europe/London"
distance = "10 miles"
point = [
  { distance = "0 mi", elevation = "40 m" },
  { distance = "2.5 mi", elevation = "48 m" },
  { distance = "4 mi", elevation = "120 m" },
  { distance = "6 mi", elevation = "60 m" },
  { distance = "8.5 mi", elevation = "128 m" },
  { distance = "10 mi", elevation = "52 m" },
]

[training]
first_day = 2026-12-21
club_nights = [
  { day = "tuesday", time = "19:00", place = "Heron track", minutes = 70 },
  { day = "thursday", time = "18:45", place = "Mill lane" },
]
roster = "roster.csv"
screening_held_by_club = true
tune_ups = [
  { name = "Sedge 10k", date = 2027-01-31, distance = "10 km", course = "hilly" },
  { name = "Mill 5", date = 2027-02-28, distance = "5 miles", entered = false },
]
"""
ROSTER = """Name;Goal;Results;Weekly distance;Longest run;Days;Units;Age;Screening;Hills;Club nights
Dilys P;1:20:00;10k 47:30 2026-11-01;20 miles;9 miles;tue thu sun;mi;41;passed;yes;tue thu
Osric L;1:02:30;10k 36:50 2026-11-08;75 km;22 km;mon tue wed thu sat sun;km;33;passed;yes;
Rhona N;1:35:00;5k 28:20 2026-11-14;25 km;12 km;tue thu sun;km;62;passed;yes;
Bram K;1:15:00;half 1:38:40 2026-10-04;38 mi;13 mi;mon tue thu fri sun;mi;38;passed;yes;
Petra S;;5k 24:10 2026-11-14;18 mi;7 mi;tue thu sat sun;mi;29;cleared;no;tuesday
Cole H;1:45:00;;15 km;8 km;tue thu sun;km;55;passed;yes;
Edda M;1:10:00;10 mi 1:12:05 2026-09-20;50 km;18 km;tue wed thu sat sun;km;44;passed;yes;
Tam W;1:25:00;10k 49:10 2026-11-01;32.5 km;14 km;tue thu sun;km;17;passed;yes;
"""


@pytest.fixture(scope="module")
def checked(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[Plan, tuple[Breach, ...]]]:
    folder: Path = tmp_path_factory.mktemp("two_nights")
    (folder / "block.toml").write_text(BLOCK, "utf-8")
    (folder / "roster.csv").write_text(ROSTER, "utf-8")
    return list(pipeline.check_block(read_block(folder)))


def test_no_plan_of_the_squad_breaks_a_limit(checked: list[tuple[Plan, tuple[Breach, ...]]]) -> None:
    assert len(checked) == 8
    broken = {plan.runner.name: [one.text for one in found if not one.excepted] for plan, found in checked}
    assert not any(broken.values()), broken


def test_every_loaded_week_has_its_long_run(checked: list[tuple[Plan, tuple[Breach, ...]]]) -> None:
    for plan, _ in checked:
        for week in plan.weeks:
            if week.phase in ("base", "build", "specific") and not week.recovery:
                longs = [session for session in week.sessions if session.role == "long"]
                assert len(longs) == 1, f"{plan.runner.name}, week {week.number}"


def test_no_other_easy_run_is_as_long_as_the_long_run(
    checked: list[tuple[Plan, tuple[Breach, ...]]],
) -> None:
    for plan, _ in checked:
        for week in plan.weeks:
            long = next((one for one in week.sessions if one.role == "long"), None)
            if long is None or week.phase == "taper" or week.recovery or long.kind == "race_simulation":
                continue  # a rehearsal is as long as the race
            others = [one for one in week.sessions if one.kind in EASY]
            for one in others:
                assert one.duration_s <= 0.8 * long.duration_s, f"{plan.runner.name}, {one.id}"


def test_the_words_of_a_step_have_its_minutes_on_club_nights_too(
    checked: list[tuple[Plan, tuple[Breach, ...]]],
) -> None:
    steps = [
        (step, said[1])
        for plan, _ in checked
        for session in plan.sessions
        for step in session.steps
        if step.duration_s is not None and (said := re.match(r"(\d+ min)\b(?! \d+ s)", step.words))
    ]
    assert len(steps) > 500
    assert not [step for step, said in steps if say_minutes(step.duration_s or 0.0) != said]


def test_whoever_runs_on_club_nights_alone_reads_why_no_long_run_fits(tmp_path: Path) -> None:
    """Evenings hold what they hold: less than the mean of the last weeks is an exception, not a breach."""
    folder = write_squad(tmp_path / "block", 8, seed=3, days=("tuesday", "thursday"))
    rows = rows_of(8, 3)
    rows[0] |= {"days": "tuesday, thursday", "weekly distance": "24 km", "longest run": "11 km"}
    rows[0] |= {"health": "passed", "injury": ""}
    write_roster(folder / "roster.csv", rows)
    block = read_block(folder)
    plan, breaches = next(pipeline.check_block(block, only=block.runners[0].key))
    assert not [one.text for one in breaches if not one.excepted]
    advice = [note.text for note in plan.notes if note.rule == "phase.runway"]
    assert any("All your running days are club nights, so no long run fits" in text for text in advice), (
        advice
    )
    assert not any("reaches" in text for text in advice)
