"""A roster from any spreadsheet; every row's mistake is told, nobody is lost in silence."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from planbuilder.block import read_block
from planbuilder.block.roster import Roster, read_roster
from planbuilder.settings.problems import InputProblems


def read(folder: Path, text: str | bytes) -> Roster:
    path = folder / "roster.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_roster(path, shown_as="roster.csv")


GOOD = """\
# the squad, spring
Name,Goal time,Result,Result 2,Weekly (km),Longest run,Days,Units,Age,Health,Notes
Ines A,1:38:00,10k 44:10 2027-01-17,5 km 21:30 2026-12-06 hilly,45,15 km,tue wed sun,km,38,passed,"hm, so"

Tom B,,10 mi 1:20:00 2027-02-01; 5k 23:00 2027-02-20,30,9 mi,"Tue, Thu, Sun",km,,
"""


def test_headers_units_and_results_are_read_as_people_type_them(tmp_path: Path) -> None:
    roster = read(tmp_path, GOOD.replace("Tom B,,10", "Tom B,,,10"))
    assert not roster.problems
    ines, tom = roster.runners
    assert roster.lines == (3, 5)
    assert ines.weekly_distance_m == (45000,)
    assert [result.distance_m for result in ines.results] == [10000, 5000]
    assert ines.results[1].course == "hilly"
    assert ines.results[0].date == dt.date(2027, 1, 17)
    assert ines.screening == "passed"
    assert tom.days == ("tuesday", "thursday", "sunday")
    assert [result.time_s for result in tom.results] == [4800, 1380]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_whatever_spreadsheet_wrote_it(tmp_path: Path, encoding: str, separator: str) -> None:
    text = (
        separator.join(("name", "weekly miles", "days"))
        + "\r\n"
        + separator.join(("Zoé K", "30", "mo we fr"))
    )
    (runner,) = read(tmp_path, text.encode(encoding)).runners
    assert runner.name == "Zoé K"
    assert list(runner.weekly_distance_m) == pytest.approx([30 * 1609.344])
    assert runner.days == ("monday", "wednesday", "friday")


def test_every_mistake_has_its_line_and_good_rows_stay(tmp_path: Path) -> None:
    roster = read(
        tmp_path,
        "name,weekly,results,days,age,favourite colour\n"
        "Ann,40 km,10k 47:30 2027-01-17,tue thu,30,\n"
        "# away this year\n"
        "Bo,40,10k 47:30,t s,old,\n"
        ",40 km,,tue,30,\n"
        '"Cy\nCarter",40 km,,tue,300,\n'
        "Di,40 km,10k 47:75 2027-01-17,sun,30,\n",
    )
    assert [runner.name for runner in roster.runners] == ["Ann"]
    assert [str(problem) for problem in roster.problems] == [
        'roster.csv:1: the column "favourite colour" must be one the roster knows, it is not. '
        'Call a column that is for you alone "notes".',
        'roster.csv:4: "weekly" must be a distance with its unit, such as "45 km", or a column headed '
        '"(km)" or "(miles)", not "40".',
        'roster.csv:4: "results" must be distance, time and date, such as 10k 47:30 2027-01-17, '
        'not "10k 47:30".',
        'roster.csv:4: "days" must be weekdays such as tue thu sat sun, not "t".',
        'roster.csv:4: "age" must be a whole number, not "old".',
        "roster.csv:5: name must be given, it is missing. It is: first name and an initial.",
        'roster.csv:6: "age" must be at most 100, not "300".',
        'roster.csv:8: the time in "results" must be a time with minutes and seconds below 60, such as '
        "1:38:00, not '47:75'.",
    ]


@pytest.mark.parametrize(("text", "sentence"), [("", "it is empty"), ("# only a remark\n", "it is empty")])
def test_a_roster_without_runners_is_told(tmp_path: Path, text: str, sentence: str) -> None:
    with pytest.raises(InputProblems, match=sentence):
        read(tmp_path, text)


@pytest.mark.parametrize("between", ["; ", ", ", ",", "\n"])
def test_results_in_one_cell_are_parted_by_a_semicolon_a_comma_or_a_line_break(
    tmp_path: Path, between: str
) -> None:
    cell = between.join(("10k 47:30 2027-01-17 hilly", "21,1 km 1:47:00 2026-11-01", "5k 22:50 2026-10-04"))
    (runner,) = read(tmp_path, f'name,results,days\nAnn,"{cell}",tue\n').runners
    assert [one.distance_m for one in runner.results] == pytest.approx([10000, 21100, 5000])
    assert [one.course for one in runner.results] == ["hilly", "flat", "flat"]


def test_a_comma_that_parts_a_cell_by_mistake_is_told_with_its_row(tmp_path: Path) -> None:
    roster = read(
        tmp_path, "name,results\nAnn,10k 47:30 2027-01-17, 5k 22:50 2026-10-04\nBo,5k 22:50 2026-10-04\n"
    )
    assert [runner.name for runner in roster.runners] == ["Bo"]
    assert [str(problem) for problem in roster.problems] == [
        "roster.csv:2: a row must have 2 cells at most, as the header has, not 3. "
        'Put a cell that holds "," in quotes.'
    ]


def test_a_wrong_weekday_is_named_with_the_nearest(tmp_path: Path) -> None:
    roster = read(tmp_path, "name,Days\nAnn,tue thrusday sun\n")
    assert str(roster.problems[0]) == (
        'roster.csv:2: "Days" must be weekdays such as tue thu sat sun, not "thrusday". '
        'Did you mean "thursday"?'
    )


def test_a_row_with_two_mistakes_is_one_row_left_out(tmp_path: Path) -> None:
    text = "name,days,age\nAnn,tue,30\nBo,xx,old\nCy,yy,40\nDi,wed,older\n"
    roster = read(tmp_path, text)
    assert (roster.left_out, len(roster.problems)) == (3, 4)


def test_a_day_that_is_named_twice_in_a_cell_is_one_day(tmp_path: Path) -> None:
    (runner,) = read(tmp_path, "name,days\nAnn,sun sunday tue\n").runners
    assert runner.days == ("tuesday", "sunday")


@pytest.mark.parametrize(
    "typed",
    [
        *("2027/01/30", "30.1.2027", "30/01/2027", "01/30/2027", "30 Jan 2027", "Jan 30 2027"),
        *("30th january 2027", "(2027-01-30)"),
    ],
)
def test_a_date_that_can_be_one_day_alone_is_read(tmp_path: Path, typed: str) -> None:
    (runner,) = read(
        tmp_path, f'name,race results\nAnn,"10k: 48:20, {typed}; half 1:50:00 {typed} hilly"\n'
    ).runners
    assert [result.date for result in runner.results] == [dt.date(2027, 1, 30)] * 2
    assert [result.time_s for result in runner.results] == [2900, 6600]
    assert [result.course for result in runner.results] == ["flat", "hilly"]


@pytest.mark.parametrize(
    ("typed", "todo"),
    [
        ("10k 48:20 10.01.2027", 'The date "10.01.2027": write 2027-01-10 or 2027-10-01.'),
        ("10k 48:20 2027-02-30", 'The date "2027-02-30": write a day of the calendar, such as 2027-01-17.'),
        ("10k 48:20 30 Foo 2027", 'The date "30 Foo 2027": write a day of the calendar, such as 2027-01-17.'),
        ("10k 48.20 2027-01-17", 'The time "48.20": write 48:20.'),
        ("10k 58m20s 2027-01-17", 'The time "58m20s": write 58:20.'),
        ("half 1h38m20s 2027-01-17", 'The time "1h38m20s": write 1:38:20.'),
    ],
)
def test_the_part_of_a_result_that_is_not_understood_is_named(tmp_path: Path, typed: str, todo: str) -> None:
    (problem,) = read(tmp_path, f"name,results\nAnn,{typed}\n").problems
    assert str(problem) == (
        'roster.csv:2: "results" must be distance, time and date, such as 10k 47:30 2027-01-17, '
        f'not "{typed}". {todo}'
    )


def test_every_mistake_of_a_row_is_told_at_once(tmp_path: Path) -> None:
    roster = read(tmp_path, "name,results,longest run,health\nAnn,10k 48.20 2027-01-17,15 m,fine\n")
    assert [str(one).partition(" must be ")[0] for one in roster.problems] == [
        'roster.csv:2: "results"',
        'roster.csv:2: "longest run"',
        'roster.csv:2: "health"',
    ]
    assert roster.left_out == 1


def test_two_rows_with_one_name_are_told_what_a_roster_can_hold(tmp_path: Path) -> None:
    (tmp_path / "block.toml").write_text(
        '[race]\nname = "Fell Half"\ndate = 2027-05-16\ndistance = "half"\ntimezone = "Europe/London"\n'
        'stretch = [{ from = "0 km", to = "21.0975 km", words = "flat" }]\n'
        '[training]\nroster = "roster.csv"\n',
        "utf-8",
    )
    (tmp_path / "roster.csv").write_text("name\nTom B\nTom B\n", "utf-8")
    with pytest.raises(InputProblems) as told:
        read_block(tmp_path)
    assert 'Write more of the surname, or add a column "id"' in str(told.value)


@pytest.mark.parametrize(
    "typed",
    [
        *("40 42 35 44", "40, 42, 35, 44", "40; 42; 35; 44", "40/42/35/44", "40\n42\n35\n44"),
        *("40 km; 42 km; 35 km; 44 km", "40, 42, 35, 44 km", "40 km 42 km 35 km 44km"),
    ],
)
def test_the_last_weeks_stand_in_one_cell(tmp_path: Path, typed: str) -> None:
    (runner,) = read(tmp_path, f'name,weekly (km)\nAnn,"{typed}"\n').runners
    assert runner.weekly_distance_m == (40000, 42000, 35000, 44000)


def test_a_unit_behind_the_last_week_is_that_of_all_and_a_comma_may_be_a_decimal(tmp_path: Path) -> None:
    ann, bo = read(tmp_path, 'name,weekly (km)\nAnn,"25; 26,5; 24 mi"\nBo,"40,5"\n').runners
    assert list(ann.weekly_distance_m) == pytest.approx([25 * 1609.344, 26.5 * 1609.344, 24 * 1609.344])
    assert bo.weekly_distance_m == (40500,)


@pytest.mark.parametrize("typed", ["40,42,35,44", "25 mi; 26", "40-45", "40; lots; 35"])
def test_weeks_that_may_mean_two_things_are_refused_in_the_words_of_the_cell(
    tmp_path: Path, typed: str
) -> None:
    (problem,) = read(tmp_path, f'name,Weekly (km)\nAnn,"{typed}"\n').problems
    assert str(problem) == (
        'roster.csv:2: "Weekly (km)" must be a distance such as "45 km", or the last weeks, latest last: '
        f'"40; 42; 35; 44 km", not "{typed}".'
    )


def test_a_value_that_cannot_be_is_told_by_its_column_and_as_it_was_typed(tmp_path: Path) -> None:
    roster = read(
        tmp_path,
        "name,goal time,Race result,Result 2,longest (km)\n"
        'Ann,2.10,10k 47:30 2027-01-17,5k 22:75 2027-02-01,"1,2,3"\n',
    )
    assert [str(one) for one in roster.problems] == [
        'roster.csv:2: "goal time" must be a time such as 1:38:00 or 44:10, not "2.10".',
        'roster.csv:2: the time in "Result 2" must be a time with minutes and seconds below 60, such as '
        "1:38:00, not '22:75'.",
        'roster.csv:2: "longest (km)" must be a distance with its unit, such as 10 km, 13.1 mi or half '
        'marathon, not "1,2,3".',
    ]


def test_the_first_day_and_the_day_of_an_injury_are_written_as_any_other(tmp_path: Path) -> None:
    (ann,) = read(tmp_path, "name,injury,first day\nAnn,calf 2 since 17 Jan 2027,25/01/2027\n").runners
    assert ann.injuries[0].since == dt.date(2027, 1, 17)
    assert ann.first_day == dt.date(2027, 1, 25)
