"""The smallest block: answers as people give them, and the time zone of the machine."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from planbuilder.block.new import answers_from, machine_zone, new_block_text
from planbuilder.block.weekdays import NotAWeekday, read_weekday, read_weekdays
from planbuilder.settings.meanings import meanings
from planbuilder.settings.models import TrainingSettings, read_zone
from planbuilder.settings.problems import InputProblems

TODAY = dt.date(2026, 12, 1)
GIVEN = {
    **{"race_name": "Quarry Half", "race_date": "2027-05-16", "distance": "half marathon"},
    **{"start_time": "09:00", "runner_name": "Ines A", "units": "km"},
}


@pytest.mark.parametrize(
    "text", ["tue thu sat sun", "Tuesday, Thu; sat & Sun", "tues/thurs/sat/sun", "Tu Th Sa Su"]
)
def test_weekdays_are_read_as_people_write_them(text: str) -> None:
    assert read_weekdays(text) == ["tuesday", "thursday", "saturday", "sunday"]


def test_a_word_that_is_no_weekday_is_named_with_the_nearest() -> None:
    with pytest.raises(NotAWeekday, match=r'sat sun, not "thrusday"\. Did you mean "thursday"\?$'):
        read_weekdays("tue thrusday sun")
    with pytest.raises(ValueError, match='one weekday such as sunday, not "sat sun"'):
        read_weekday("sat sun")


def test_short_weekdays_make_a_block() -> None:
    answers = answers_from({**GIVEN, "days": "tue thu sat sun", "long_run_day": "sun"}, ask=None, today=TODAY)
    assert answers.days == ["tuesday", "thursday", "saturday", "sunday"]
    assert answers.long_run_day == "sunday"


def test_a_first_day_behind_the_race_is_refused() -> None:
    with pytest.raises(InputProblems, match=r"--first-day: .* must be before the race on 2027-05-16"):
        answers_from({**GIVEN, "first_day": "2027-05-17"}, ask=None, today=TODAY)


def test_a_block_has_twelve_weeks_by_default_and_race_week_is_the_last_of_them() -> None:
    """The README says so; 28 February 2027 is a Sunday."""
    given = {**GIVEN, "race_date": "2027-02-28", "start_time": "09:00"}
    first = answers_from(given, ask=None, today=TODAY).first_day
    assert first + dt.timedelta(weeks=12) == dt.date(2027, 3, 1)
    assert "12 weeks (16 for a marathon), race week the last" in meanings(TrainingSettings)["first_day"]


def test_the_zone_of_the_machine_is_the_default(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", ":Europe/Lisbon")
    assert machine_zone() == "Europe/Lisbon"
    seen: dict[str, str | None] = {}

    def ask(question: str, kind: str, default: str | None, _check: Callable[[str], object]) -> str | None:
        seen[kind] = default
        return default

    assert answers_from(GIVEN, ask=ask, today=TODAY).timezone == "Europe/Lisbon"
    assert seen["zone"] == "Europe/Lisbon"


def test_a_machine_that_names_no_zone_gives_utc_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planbuilder.block.new.machine_zone", lambda: None)
    asked: dict[str, str] = {}

    def ask(question: str, kind: str, default: str | None, _check: Callable[[str], object]) -> str | None:
        asked[kind] = f"{question} [{default}]"
        return default

    assert answers_from(GIVEN, ask=ask, today=TODAY).timezone == "UTC"
    assert asked["zone"] == "Time zone of the race (this machine does not say one) [UTC]"


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {"goal_time": "1:36"},
            "--goal-time: the time hoped for must be one that a person can run or walk, "
            '"1:36" is 1 min 36 s. Write 1:36:00.',
        ),
        (
            {"result_distance": "10 km", "result_time": "44:10:00", "result_date": "2026-11-01"},
            '--result-time: its time must be one that a person can run or walk, "44:10:00" is 44 h 10 min. '
            "Write 44:10.",
        ),
    ],
)
def test_a_time_that_build_would_refuse_is_refused_before_the_block_is_written(
    given: dict[str, str], said: str
) -> None:
    with pytest.raises(InputProblems) as caught:
        answers_from({**GIVEN, **given}, ask=None, today=TODAY)
    assert str(caught.value) == said


@pytest.mark.parametrize(
    "given", [{"roster": "squad.csv", "runner_name": None}, {"runner_name": "squad.csv"}]
)
def test_a_coach_with_a_roster_names_no_runner(given: dict[str, str | None]) -> None:
    text = new_block_text(answers_from({**GIVEN, **given}, ask=None, today=TODAY))
    assert 'roster = "squad.csv"' in text
    assert "[[runner]]" not in text
    assert '# roster = "roster.csv"' in new_block_text(answers_from(GIVEN, ask=None, today=TODAY))


@pytest.mark.parametrize("name", ["weekly_distance", "longest_run"])
def test_metres_are_no_week(name: str) -> None:
    with pytest.raises(InputProblems, match=r"must be a distance of at least 1 km .*, not '15 m'"):
        answers_from({**GIVEN, name: "15 m"}, ask=None, today=TODAY)


def test_a_zone_that_names_no_place_is_refused_with_a_place() -> None:
    for typed, nearest in (("GMT+1", "Europe/Lisbon"), ("Europe/Lisbonn", "Europe/Lisbon")):
        with pytest.raises(
            ValueError, match=f'an area and a city, such as "{nearest}", not {typed!r}'.replace("+", "[+]")
        ):
            read_zone(typed)
