"""Weekly distance, longest run, level, and the notes for what is missing or contradicts itself."""

from __future__ import annotations

from typing import Any

import pytest

from planbuilder.runner import assumptions, level_of, trusted_volume
from planbuilder.units import MARK, say_in
from tests.runner.samples import LIMITS, result, runner


@pytest.mark.parametrize(
    ("written", "level"),
    [
        ({"weekly_distance": "29 km"}, "novice"),
        ({"weekly_distance": "30 km"}, "intermediate"),
        ({"weekly_distance": "54 km"}, "intermediate"),
        ({"weekly_distance": "55 km"}, "club"),
        ({"weekly_distance": "80 km"}, "club"),
        ({"weekly_distance": "81 km"}, "advanced"),
        ({"weekly_distance": "81 km", "running_months": 8}, "novice"),
        ({"weekly_distance": "20 km", "level": "club"}, "club"),
        ({}, "novice"),
    ],
)
def test_the_level_follows_the_running_and_not_the_ambition(written: dict[str, Any], level: str) -> None:
    assert level_of(runner(**written), LIMITS) == level


def test_eight_weeks_decide_the_level_and_four_the_volume() -> None:
    weeks = ["60 km"] * 4 + ["40 km"] * 4
    who = runner(weekly_distance=weeks, longest_run="20 km")
    assert level_of(who, LIMITS) == "intermediate"
    assert trusted_volume(who, LIMITS).weekly_distance_m == pytest.approx(40_000.0)
    assert level_of(runner(weekly_distance=["60 km"] * 8), LIMITS) == "club"


def test_a_missing_week_is_three_runs_of_five_kilometres() -> None:
    found = trusted_volume(runner(), LIMITS)
    assert found.weekly_distance_m == 15_000.0
    assert found.longest_run_m == 15_000.0 / 4
    assert not found.weekly_given
    assert not found.longest_given


def test_until_answered_the_lower_figure_counts() -> None:
    """60 km on three days with a longest run of 12 km cannot be: three runs of 12 km make 36."""
    who = runner(weekly_distance="60 km", longest_run="12 km", days=["tuesday", "thursday", "sunday"])
    found = trusted_volume(who, LIMITS)
    assert found.contradiction
    assert found.weekly_distance_m == 36_000.0
    longer = trusted_volume(runner(weekly_distance="15 km", longest_run="20 km"), LIMITS)
    assert longer.contradiction
    assert longer.longest_run_m == 15_000.0
    assert not trusted_volume(runner(weekly_distance="40 km", longest_run="15 km"), LIMITS).contradiction


def test_days_that_nobody_wrote_down_contradict_nothing() -> None:
    assert not trusted_volume(runner(weekly_distance="70 km", longest_run="16 km"), LIMITS).contradiction
    assert trusted_volume(runner(weekly_distance="70 km", longest_run="9 km"), LIMITS).contradiction


def test_what_stands_in_is_said_with_its_figure() -> None:
    notes = {note.rule: note for note in assumptions(runner(), LIMITS)}
    assert set(notes) == {
        *("load.assumed_week", "load.single_run_cap", "day.available", "runner.level_bounds")
    }
    assert all(note.kind == "assumed" for note in notes.values())
    assert "15 km" in say_in(notes["load.assumed_week"].text, "km")
    assert "9.5 mi" in say_in(notes["load.assumed_week"].text, "mi")


def test_a_contradiction_is_asked_about_and_names_both_figures() -> None:
    who = runner(weekly_distance="60 km", longest_run="12 km", days=["tuesday", "thursday", "sunday"])
    note = next(note for note in assumptions(who, LIMITS) if "fit together" in note.text)
    said = say_in(note.text, "km")
    assert "36 km" in said
    assert "12 km" in said


def test_the_best_week_is_named_beside_the_mean() -> None:
    who = runner(weekly_distance=["30 km", "32 km", "60 km", "30 km"], longest_run="15 km")
    note = next(note for note in assumptions(who, LIMITS) if "best of them" in note.text)
    said = say_in(note.text, "km")
    assert "38 km" in said
    assert "60 km" in said
    even = runner(weekly_distance=["30 km", "32 km", "34 km", "36 km"], longest_run="15 km")
    assert not any("best of them" in note.text for note in assumptions(even, LIMITS))


@pytest.mark.parametrize(("age", "measured", "asked"), [(40, 156, False), (40, 154, True), (40, 206, True)])
def test_an_unusual_maximal_heart_rate_is_asked_about_and_still_counts(
    age: int, measured: int, asked: bool
) -> None:
    """Usual at 40: 180 (Tanaka et al. 2001); 25 beats of doubt are our choice."""
    notes = assumptions(runner(age=age, max_heart_rate=measured), LIMITS)
    found = [note for note in notes if note.rule == "runner.heart_rate_doubt"]
    assert bool(found) is asked
    if asked:
        assert "the measured one counts" in found[0].text


def test_no_heart_rate_is_judged_for_the_young() -> None:
    notes = assumptions(runner(age=15, max_heart_rate=215), LIMITS)
    assert not any(note.rule == "runner.heart_rate_doubt" for note in notes)


def test_a_complete_runner_gets_no_notes() -> None:
    who = runner(
        weekly_distance="45 km",
        longest_run="15 km",
        level="club",
        results=[result("10 km", "44:10")],
        days=["tuesday", "thursday", "sunday"],
    )
    assert assumptions(who, LIMITS) == ()


def test_every_sentence_reads_in_both_systems() -> None:
    who = runner(weekly_distance=["20 km", "60 km", "20 km", "20 km"], longest_run="9 km")
    for note in assumptions(who, LIMITS):
        for system in ("km", "mi"):
            assert not MARK.search(say_in(note.text, system))


def test_days_that_stand_in_are_named() -> None:
    """Whoever left the cell empty hears on which days the plan runs."""
    (note,) = (note for note in assumptions(runner(), LIMITS) if note.rule == "day.available")
    assert note.text == "Your running days are not given; Tuesday, Thursday, Saturday and Sunday stand in."
