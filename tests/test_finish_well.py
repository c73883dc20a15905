"""A race for finishing well: plan C alone, by effort, and no clock anywhere.

No time goal below the entry of a distance, run and walk by turns allowed; the first third comfortable: common
practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder import pipeline
from planbuilder.block import Block, read_block
from planbuilder.delivery.files import runner_files
from planbuilder.pipeline import PlanNow
from tests.squad.squads import rows_of, write_roster, write_squad

HOUSE = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def block() -> Block:
    return read_block(HOUSE / "demo_plans" / "rolling-10k")


@pytest.fixture(scope="module")
def late(block: Block) -> PlanNow:
    """Five weeks before a 10 km."""
    (now,) = pipeline.plans_now(block, only="wim-d")
    return now


def test_too_few_weeks_leave_plan_c_alone_and_no_clock(late: PlanNow) -> None:
    race = late.plan.race_plan
    assert [(one.name, one.time_s) for one in race.outcomes] == [("C", None)]
    assert race.finish_time_s is None
    assert all(one.clock_s is None for one in (*race.features, *race.splits_km, *race.splits_mi))
    assert race.goal.verdict == "finish well"


def test_the_first_third_is_comfortable_and_the_end_is_below_all_out(late: PlanNow) -> None:
    splits = late.plan.race_plan.splits_km
    assert max(high for _, high in (one.effort_rpe for one in splits[:3])) <= 6
    assert max(high for _, high in (one.effort_rpe for one in splits)) <= 8


def test_no_file_of_such_a_runner_holds_a_plan_by_the_clock(late: PlanNow) -> None:
    files = {name: data.decode("utf-8-sig") for name, data in runner_files(late).items()}
    card = files["race-card.html"]
    assert "Plan A" not in card
    assert "Plan B" not in card
    assert "For the wrist" not in card
    assert "Look at the watch" not in card
    for name, text in files.items():
        assert not re.search(r"[Ss]tep from A to B|Plan A[ :]", text), name


def test_race_effort_in_training_is_that_of_such_a_race(late: PlanNow) -> None:
    steps = [step for one in late.plan.sessions for step in one.steps if step.band == "race effort"]
    assert steps
    assert all(step.effort_rpe[1] <= 8 and step.pace_s_per_km is None for step in steps)


def test_a_time_that_the_coach_asks_for_is_heeded_all_the_same(block: Block) -> None:
    (now,) = pipeline.plans_now(block, only="wim-d", goal_time_s=56 * 60.0)
    assert now.plan.race_plan.finish_time_s == pytest.approx(56 * 60.0, abs=1)


def test_runners_with_the_weeks_and_the_training_keep_their_clock(block: Block) -> None:
    for now in pipeline.plans_now(block, only="bea-k"):
        assert [one.name for one in now.plan.race_plan.outcomes] == ["A", "B", "C"]


def test_whoever_is_told_to_walk_and_run_has_a_race_plan_that_does(tmp_path: Path) -> None:
    """A long run too short to race a half marathon on."""
    folder = write_squad(tmp_path / "block", 1, seed=5)
    rows = rows_of(1, 5)
    rows[0] |= {"weekly distance": "24 km", "longest run": "8 km", "units": "km", "screening": "passed"}
    write_roster(folder / "roster.csv", rows)
    (now,) = pipeline.plans_now(read_block(folder))
    advised = [note.text for note in now.plan.notes if "walk and run by turns" in note.text]
    assert bool(advised) == (now.plan.race_plan.outcomes[0].words.startswith("run 9 min"))
    if not advised:
        pytest.fail("the longest run of this runner should stay too short")


def test_with_the_weeks_and_the_training_the_same_runner_has_a_clock(block: Block) -> None:
    runners = [
        replace(
            one,
            settings=one.settings.model_copy(
                update={"first_day": None, "weekly_distance_m": (30_000.0,), "longest_run_m": 10_000.0}
            ),
        )
        if one.key == "wim-d"
        else one
        for one in block.runners
    ]
    fit = replace(block, runners=tuple(runners))
    (now,) = pipeline.plans_now(fit, only="wim-d")
    assert now.plan.race_plan.finish_time_s is not None
