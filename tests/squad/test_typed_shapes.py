"""Sets, ladders, two parts, time trials: everyone on one whistle, less for those with less behind them."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from planbuilder import pipeline
from planbuilder.block import read_block
from planbuilder.plan.walk import timeline
from planbuilder.rules.night_shape import row_words
from planbuilder.rules.orders import Draft
from planbuilder.rules.typed_night import read_night
from planbuilder.schedule import rule_context, whistle_of
from planbuilder.schedule.group_night import group_draft, group_want
from planbuilder.schedule.state import Planner
from planbuilder.settings.limits import default_limits
from tests.schedule.builders import request_of
from tests.squad.squads import FIRST_DAY, write_squad

EVENING = dt.date(2027, 4, 13)
USUAL: dict[str, Any] = {
    "weekly_distance": "60 km",
    "longest_run": "17 km",
    "days": ("tuesday", "wednesday", "thursday", "saturday", "sunday"),
    "results": [{"distance": "10 km", "time": "44:00", "date": dt.date(2027, 2, 14)}],
}


def draft_of(
    line: str, *, work_s: float = 3600.0, known: frozenset[str] | None = None, **runner: Any
) -> Draft | None:
    request = request_of(
        training={"club_nights": [{"day": "tuesday", "time": "19:00"}]}, **{**USUAL, **runner}
    )
    night = read_night(line, name="night", library=request.library, limits=request.limits)
    mine = replace(request, nights={EVENING: night})
    planner = Planner(mine, rule_context(mine), (), frozenset())
    frame = next(one for one in planner.context.frames if EVENING in one.days)
    want = group_want(planner, frame, EVENING)
    if want is None:
        return None
    return group_draft(planner, replace(want, known=known), frame.phase, work_s, 2000.0, 50_000.0)


def work_of(draft: Draft | None) -> list[tuple[float, float]]:
    """When each stretch of work begins, and how long it is."""
    assert draft is not None
    return [(leg.start_s, leg.duration_s) for leg in timeline(draft.steps) if leg.kind == "work"]


def shape_of(draft: Draft | None) -> str:
    work = work_of(draft)
    rests = [later[0] - now[0] - now[1] for now, later in pairwise(work)]
    return row_words(list(zip((size for _, size in work), [*rests, 0.0], strict=True)), rests=False)


@pytest.mark.parametrize(
    ("line", "whole", "fewer"),
    [
        ("3 sets of 4 x 200, 30 s / 3 min", "3 sets of 4 × 45 s", "4 × 45 s"),
        ("3 x 4 x 1 min hard, 60 s / 3 min", "3 sets of 4 × 1 min", "4 × 1 min"),
        ("pyramid 1-2-3-4-3-2-1 min, 90 s jog", "1, 2, 3, 4, 3, 2, 1 min", "1, 2, 3 min"),
        ("20 min tempo + 4 x 30 s hill", "20 min + 4 × 30 s", "11 min + 4 × 30 s"),
        ("5 x 1 km at threshold, 90 s jog", "5 × 4 min 15 s", "3 × 4 min 15 s"),
        ("10 x 2 min hard, 1 min jog", "10 × 2 min", "6 × 2 min"),
    ],
)
def test_who_may_do_less_does_the_first_part_on_the_same_whistle(line: str, whole: str, fewer: str) -> None:
    """A novice does at most six tenths of the work, in whole sets: common practice, no source."""
    club, novice = draft_of(line), draft_of(line, weekly_distance="25 km")
    assert (shape_of(club), shape_of(novice)) == (whole, fewer)
    most, least = work_of(club), work_of(novice)
    assert [at for at, _ in least] == pytest.approx([at for at, _ in most[: len(least)]], abs=0.5)
    assert all(mine <= theirs + 0.5 for (_, mine), (_, theirs) in zip(least, most, strict=False))
    assert club is not None
    assert novice is not None
    assert novice.duration_s == pytest.approx(club.duration_s, abs=1)
    whistle = whistle_of(
        read_night(line, name="n", library=request_of().library, limits=default_limits()), default_limits()
    )
    assert whistle is not None
    assert most[0][0] == pytest.approx(whistle.first_s, abs=0.5)
    assert most[-1][0] + most[-1][1] == pytest.approx(whistle.last_s, abs=0.5)


@pytest.mark.parametrize("minutes", [4, 6, 8, 10, 14, 18, 25])
@pytest.mark.parametrize(
    "line",
    [
        "3 sets of 4 x 200, 30 s / 3 min",
        "pyramid 1-2-3-4-3-2-1 min, 90 s jog",
        "20 min tempo + 4 x 30 s hill",
    ],
)
def test_no_more_work_than_the_week_leaves(line: str, minutes: float) -> None:
    draft = draft_of(line, work_s=minutes * 60)
    if draft is not None:
        assert draft.work_s <= minutes * 60 + 1
    assert draft is not None or minutes < 8


def test_a_long_stretch_gives_way_to_the_shorter_ones_behind_it() -> None:
    """A coach shortens the tempo and keeps the hills: common practice, no source."""
    line = "20 min tempo + 6 x 30 s hills"
    whole, part = draft_of(line), draft_of(line, work_s=15 * 60.0)
    assert shape_of(whole) == "20 min + 6 × 30 s"
    assert shape_of(part) == "12 min + 6 × 30 s"
    assert [at for at, _ in work_of(part)] == pytest.approx([at for at, _ in work_of(whole)], abs=0.5)


@pytest.mark.parametrize("line", ["fartlek 30 min", "10 x 60 s fast, 90 s jog", "1-2-3-2-1 min, 90 s jog"])
def test_where_nothing_may_be_new_the_same_whistle_is_run_in_a_form_that_is_known(line: str) -> None:
    """Nothing new in the last fortnight: common practice, no source."""
    whole = draft_of(line)
    known = draft_of(line, known=frozenset({"threshold_repeats", "threshold_run"}))
    assert known is not None
    assert known.kind == "threshold_repeats"
    assert [at for at, _ in work_of(known)] == pytest.approx([at for at, _ in work_of(whole)], abs=0.5)
    assert [size for _, size in work_of(known)] == [size for _, size in work_of(whole)]
    assert draft_of(line, known=frozenset({"threshold_run"})) is None


def test_who_must_not_run_uphill_runs_the_second_part_on_the_level() -> None:
    draft = draft_of("20 min tempo + 4 x 30 s hill", injuries=[{"place": "calf", "pain": 1}])
    assert draft is not None
    assert draft.climb_m == 0
    assert shape_of(draft) == "20 min + 4 × 30 s"
    assert not any("down" in step.words for step in draft.steps if step.kind == "recovery")


def test_a_time_trial_starts_together_and_novices_run_it_evenly() -> None:
    club = draft_of("2 mile time trial")
    novice = draft_of("2 mile time trial", weekly_distance="25 km")
    assert club is not None
    assert novice is not None
    trial = next(step for step in club.steps if step.kind == "work")
    assert trial.distance_m == pytest.approx(3218.7, abs=0.5)  # 2 miles of 1609.344 m
    assert (club.kind, trial.effort_rpe[1]) == ("test", 10)
    even = next(step for step in novice.steps if step.kind == "work")
    assert (novice.kind, even.effort_rpe[1]) == ("threshold_run", 7)
    assert even.distance_m is None  # no result: it would say nothing of the novice's form
    assert even.pace_s_per_km is not None
    assert even.duration_s == pytest.approx(3.2187 * sum(even.pace_s_per_km) / 2, abs=60)
    assert work_of(club)[0][0] == pytest.approx(work_of(novice)[0][0], abs=0.5)
    assert club.duration_s == pytest.approx(novice.duration_s, abs=1)


def test_a_set_that_is_typed_in_metres_lasts_as_long_as_the_line_says() -> None:
    """800 m at 255 s/km, to 15 s: our choice, so that all stop on one whistle."""
    assert shape_of(draft_of("6 x 800 m, 2 min jog")) == "6 × 3 min 30 s"
    assert shape_of(draft_of("6 x 800 steady, 1:45 jog")) == "6 × 3 min 30 s"


def test_the_time_trial_of_the_club_is_the_test_of_whoever_has_no_result(tmp_path: Path) -> None:
    trial = FIRST_DAY + dt.timedelta(days=8)
    block = read_block(write_squad(tmp_path, 9, seed=2, nights={trial: "3 km time trial"}))
    runners = [
        replace(runner, settings=runner.settings.model_copy(update={"results": ()}))
        for runner in block.runners
    ]
    joined = 0
    for plan in pipeline.plan_all(replace(block, runners=tuple(runners))):
        early = [one for one in plan.sessions if one.date < FIRST_DAY + dt.timedelta(days=28)]
        club = [one for one in early if one.date == trial and one.kind == "test"]
        if club:
            joined += 1
            assert not [one.id for one in early if one.role == "test"]
    assert joined >= 2
