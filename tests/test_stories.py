"""Six stories, each read by a person: what happens, what the plan makes of it, what everybody reads.

``pytest --accept tests/test_stories.py`` writes them anew; read them as a coach would before committing.
"""

from __future__ import annotations

import datetime as dt
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from planbuilder import living, pipeline
from planbuilder.block import read_block
from planbuilder.block.log_table import LogLine
from planbuilder.outputs.terminal_living import replan_text
from planbuilder.race import parse_conditions
from planbuilder.units import say_in, say_run, say_time
from tests.accepted_half import WHO, accept_first, accepted_half, noon

ROOT = Path(__file__).parent.parent
GOLDEN = ROOT / "tests" / "golden" / "stories"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return accepted_half(tmp_path)


def edit(folder: Path, today: dt.date, **values: object) -> None:
    said = {key.rstrip("_"): value for key, value in values.items()}
    living.edit(folder, {**said, "runner": WHO, "on": today}, today=today, now=noon(today))


def missed(folder: Path, first: dt.date, last: dt.date) -> None:
    (plan,) = pipeline.plan_all(read_block(folder))
    lines = [
        LogLine(one.date.isoformat(), WHO, one.id, "missed")
        for one in plan.sessions
        if first <= one.date <= last and one.role not in ("strength", "cross")
    ]
    living.add_to_log(folder, lines)


def answer(folder: Path, today: dt.date) -> str:
    """What re-planning says, and what the weeks hold before and after."""
    block = read_block(folder)
    (before,) = pipeline.plan_all(block)
    (found,) = living.propose(block, today=today)
    living.accept(block, [found], by="replan", today=today, now=noon(today))
    (after,) = pipeline.plan_all(block)
    weeks = "\n".join(
        f"week {one.number:2d} {one.phase:9s}{say_run(one.distance_m, 'km'):>9s} -> "
        f"{say_run(two.distance_m, 'km')}{'' if one.phase == two.phase else ', ' + two.phase}"
        for one, two in zip(before.weeks, after.weeks, strict=True)
        if abs(one.distance_m - two.distance_m) > 250
    )
    race = f"Race plan: {outcomes(before)} -> {outcomes(after)}"
    text = replan_text(WHO, found.answer, times=found.times, system="km", width=100)
    return "\n\n".join(part for part in (f"On {today}", text.rstrip(), weeks, race) if part) + "\n"


def outcomes(plan: object) -> str:
    return ", ".join(f"{one.name} {say_time(one.time_s) if one.time_s else 'by effort'}"
                     for one in plan.race_plan.outcomes)  # type: ignore[attr-defined]  # fmt: skip


def a_cold_in_week_5(folder: Path) -> str:
    edit(folder, dt.date(2027, 3, 29), do="ill", from_=dt.date(2027, 3, 29), fever=False)
    first = answer(folder, dt.date(2027, 3, 29))
    toml = folder / "edits.toml"
    toml.write_text(toml.read_text().replace("fever = false", "fever = false\nto = 2027-03-31"))
    return first + "\nThe cold is over on Wednesday.\n\n" + answer(folder, dt.date(2027, 4, 1))


def an_achilles_niggle_in_week_7(folder: Path) -> str:
    living.add_to_log(
        folder, [LogLine("2027-04-13", WHO, "w07-club", effort="7", pain="3", where="left achilles")]
    )
    first = answer(folder, dt.date(2027, 4, 14))
    living.add_to_log(folder, [LogLine("2027-04-20", WHO, "w08-club", pain="5", where="achilles")])
    return first + "\nA week later it is 5 of 10.\n\n" + answer(folder, dt.date(2027, 4, 21))


def a_12_percent_better_tune_up_on_a_hilly_course(folder: Path) -> str:
    edit(folder, dt.date(2027, 4, 26), do="result", date=dt.date(2027, 4, 25), distance="10 km", time="41:36",
         course="hilly", climb="110 m")  # fmt: skip
    return answer(folder, dt.date(2027, 4, 26))


def three_weeks_lost_in_the_middle(folder: Path) -> str:
    missed(folder, dt.date(2027, 4, 5), dt.date(2027, 4, 25))
    return answer(folder, dt.date(2027, 4, 26))


def a_heat_forecast_for_race_day(folder: Path) -> str:
    block = read_block(folder)
    (before,) = pipeline.plan_all(block)
    (after,) = pipeline.plan_all(block, conditions=parse_conditions("21C 65%"))
    told = "\n".join(f"{one.kind}: {one.seconds:.0f} s, {say_in(one.why, 'km')}"
                     for one in after.race_plan.adjustments)  # fmt: skip
    notes = "\n".join(say_in(note.text, "km") for note in after.race_plan.notes)
    unchanged = "The weeks stay as they are.\n" if after.weeks == before.weeks else "The weeks change!\n"
    return f"Race plan: {outcomes(before)} -> {outcomes(after)}\n\n{told}\n\n{notes}\n\n{unchanged}"


def a_first_result_after_an_old_one(folder: Path) -> str:
    path = folder / "block.toml"
    path.write_text(path.read_text().replace("date = 2027-02-14", "date = 2026-08-01"))
    shutil.rmtree(folder / "state")
    accept_first(folder)
    edit(folder, dt.date(2027, 3, 30), do="result", date=dt.date(2027, 3, 28), distance="10 km", time="45:00",
         course="hilly", climb="110 m")  # fmt: skip
    return answer(folder, dt.date(2027, 3, 30))


STORIES: tuple[Callable[[Path], str], ...] = (
    a_cold_in_week_5,
    an_achilles_niggle_in_week_7,
    a_12_percent_better_tune_up_on_a_hilly_course,
    three_weeks_lost_in_the_middle,
    a_heat_forecast_for_race_day,
    a_first_result_after_an_old_one,
)


@pytest.mark.parametrize("story", STORIES, ids=lambda story: story.__name__)
def test_a_story_reads_as_it_was_read_by_a_person(
    story: Callable[[Path], str], folder: Path, request: pytest.FixtureRequest
) -> None:
    text = story(folder)
    path = GOLDEN / f"{story.__name__}.txt"
    if request.config.getoption("--accept"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, "utf-8")
    assert text == path.read_text("utf-8"), "read the story, then pytest --accept tests/test_stories.py"
