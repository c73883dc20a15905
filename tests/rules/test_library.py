"""The session library, and a coach's own file beside it."""

from __future__ import annotations

from pathlib import Path

import pytest

from planbuilder.rules.library import load_library
from planbuilder.settings.problems import InputProblems

# The kinds of session that clubs use (common practice, no source): each must be there by name.
EXPECTED = [
    "recovery_run",
    "easy_run",
    "strides",
    "hill_sprints",
    "short_hill_reps",
    "long_hill_reps",
    "hill_circuit",
    "uphill_tempo",
    "threshold_run",
    "threshold_repeats",
    "threshold_on_grade",
    "intervals",
    "repetitions",
    "fartlek",
    "progression_run",
    "steady_run",
    "goal_repeats",
    "downhill_start",
    "rolling_long_run",
    "controlled_downhill",
    "hill_finish_long_run",
    "descent_long_run",
    "race_simulation",
    "drag_session",
    "long_run",
    "long_run_goal_effort",
    "tune_up",
    "test",
    "shakeout",
    "cross_training",
    "walk_run",
    "strength",
    "group_easy",
    "race_touch",
]

OWN_SESSION = """
[canal_repeats]
title = "Canal repeats"
purpose = "Keeps the whole club together on the towpath."
shape = "repeats"
phases = ["base", "build"]
counts_as = "hard"
band = "threshold"
effort = [6, 7]
ground = "flat"
work_minutes = { novice = [9, 12], intermediate = [15, 24], club = [24, 36] }
repeats = { novice = [3, 4], intermediate = [5, 8], club = [8, 12] }
repeat_seconds = { novice = [180, 180], intermediate = [180, 180], club = [180, 180] }
recovery_seconds = [60, 90]
warm_up = "standard"
cool_down = "standard"
"""


def write(folder: Path, text: str) -> Path:
    path = folder / "sessions.toml"
    path.write_text(text, encoding="utf-8")
    return path


def sentences(folder: Path, text: str) -> list[str]:
    with pytest.raises(InputProblems, match=r"sessions\.toml") as caught:
        load_library(write(folder, text))
    return [str(problem) for problem in caught.value.problems]


def test_the_library_holds_every_kind_that_clubs_use() -> None:
    assert sorted(load_library().names) == sorted(EXPECTED)


def test_every_kind_has_a_purpose_of_one_sentence_and_a_source_mark() -> None:
    for template in load_library():
        assert template.purpose.endswith(".")
        assert template.purpose.count(". ") == 0
        assert template.mark
        if template.mark == "published":
            assert template.source


def test_every_hard_kind_says_how_it_grows_and_when_to_leave_it_out() -> None:
    for template in load_library():
        if template.counts_as in ("hard", "race"):
            assert template.progression, template.name
            assert template.not_when.pain, template.name


def test_every_stand_in_is_a_kind_of_the_library_and_asks_for_less() -> None:
    library = load_library()
    for template in library:
        if template.instead:
            assert template.instead in library
            assert not set(library.template(template.instead).needs) >= {*template.needs, ""}


def test_uphill_kinds_name_what_may_stand_in_for_the_hill() -> None:
    for template in load_library():
        if template.ground in ("up", "drag"):
            assert template.substitutes, template.name


def test_titles_hold_no_sizes_and_no_codes() -> None:
    for template in load_library():
        assert not any(letter.isdigit() for letter in template.title)
        assert not any(word.isupper() for word in template.title.split())


def test_a_coach_adds_a_session(tmp_path: Path) -> None:
    library = load_library(write(tmp_path, OWN_SESSION))
    assert library.template("canal_repeats").title == "Canal repeats"
    assert len(library) == len(load_library()) + 1


def test_a_coach_changes_one_line_and_the_rest_stays(tmp_path: Path) -> None:
    text = '[long_hill_reps]\ntitle = "Quarry hill"\nwork_minutes = { novice = [5, 8] }\n'
    changed = load_library(write(tmp_path, text)).template("long_hill_reps")
    shipped = load_library().template("long_hill_reps")
    assert changed.title == "Quarry hill"
    assert changed.work_minutes is not None
    assert shipped.work_minutes is not None
    assert changed.work_minutes.novice == (5, 8)
    assert changed.work_minutes.club == shipped.work_minutes.club
    assert changed.purpose == shipped.purpose


def test_the_shipped_library_is_not_touched_by_a_block(tmp_path: Path) -> None:
    load_library(write(tmp_path, '[easy_run]\ntitle = "Plod"\n'))
    assert load_library().template("easy_run").title == "Easy run"


def test_every_mistake_is_one_sentence_with_its_line(tmp_path: Path) -> None:
    text = OWN_SESSION.replace('shape = "repeats"', 'shape = "repets"').replace(
        "effort = [6, 7]", "effort = [6, 12]\nefort = 3"
    )
    assert sentences(tmp_path, text) == [
        "sessions.toml:5: canal_repeats.shape must be one of easy, strides, repeats, continuous, "
        "progression, downhill_start, rolling, hill_finish, late_descent, simulation, long_goal, walk_run, "
        'strength, cross_training, tune_up, test, not "repets". Did you mean "repeats"?',
        "sessions.toml:9: canal_repeats.effort must be an effort from 0 to 10, not [6.0, 12.0].",
        'sessions.toml:10: "efort" must be a setting of canal_repeats, it is not. Did you mean "effort"?',
    ]


def test_a_range_that_runs_backwards_is_found(tmp_path: Path) -> None:
    text = OWN_SESSION.replace("recovery_seconds = [60, 90]", "recovery_seconds = [90, 60]")
    assert sentences(tmp_path, text) == [
        "sessions.toml:14: canal_repeats.recovery_seconds must be [low, high] with low not above high, "
        "not [90.0, 60.0]."
    ]


def test_a_hard_session_without_a_warm_up_is_refused(tmp_path: Path) -> None:
    found = sentences(tmp_path, OWN_SESSION.replace('warm_up = "standard"', 'warm_up = "none"'))
    assert found == [
        "sessions.toml:2: canal_repeats must be one with a warm-up when it counts as hard, "
        'not warm_up = "none".'
    ]


def test_an_easy_session_cannot_be_made_hard(tmp_path: Path) -> None:
    found = sentences(tmp_path, "[easy_run]\neffort = [4, 6]\n")
    assert found == [
        "sessions.toml:1: easy_run must be easy when it counts as easy: effort at most 4, not 6."
    ]


def test_a_session_without_its_numbers_is_refused(tmp_path: Path) -> None:
    lines = [line for line in OWN_SESSION.splitlines() if not line.startswith("repeats =")]
    assert sentences(tmp_path, "\n".join(lines)) == [
        "sessions.toml:2: canal_repeats must be complete: the shape repeats needs repeats."
    ]


def test_a_dose_of_nothing_is_refused(tmp_path: Path) -> None:
    text = OWN_SESSION.replace("repeats = { novice = [3, 4]", "repeats = { novice = [0, 4]")
    assert sentences(tmp_path, text) == [
        "sessions.toml:2: canal_repeats must be one whose repeats begin at 1 or more, not 0."
    ]


def test_an_unknown_stand_in_is_found(tmp_path: Path) -> None:
    assert sentences(tmp_path, OWN_SESSION + 'instead = "threshold_run_"\n') == [
        'sessions.toml:17: canal_repeats.instead must be the name of a session, not "threshold_run_". '
        'Did you mean "threshold_run"?'
    ]


def test_a_name_that_is_no_name_is_found(tmp_path: Path) -> None:
    found = sentences(tmp_path, OWN_SESSION.replace("[canal_repeats]", '["Canal repeats"]'))
    assert found == [
        "sessions.toml:2: the name of a session must be lower-case words joined by _, such as "
        'canal_repeats, not "Canal repeats".'
    ]


def test_a_line_outside_a_table_is_found(tmp_path: Path) -> None:
    found = sentences(tmp_path, 'title = "lost"\n' + OWN_SESSION)
    assert found == ["sessions.toml:1: title must be a table of its own, not 'lost'."]


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match=r"sessions\.toml: the file must exist"):
        load_library(tmp_path / "sessions.toml")
