"""A block folder is read whole, or every mistake in it is told."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from planbuilder.block import read_block, slug
from planbuilder.settings.problems import InputProblems

SMALLEST = """\
[race]
name = "Saltmarsh Half"
date = 2027-05-16
timezone = "Europe/Lisbon"
distance = "half marathon"

[[runner]]
name = "Ines A"
"""


def write(folder: Path, text: str, name: str = "block.toml") -> Path:
    (folder / name).write_text(text)
    return folder


def told(folder: Path) -> list[str]:
    with pytest.raises(InputProblems, match=":") as caught:
        read_block(folder)
    return [str(problem).replace(str(folder), "BLOCK") for problem in caught.value.problems]


def test_the_smallest_block_is_enough(tmp_path: Path) -> None:
    block = read_block(write(tmp_path, SMALLEST))
    assert block.key == "saltmarsh-half"
    assert [runner.key for runner in block.runners] == ["ines-a"]
    assert block.first_day == dt.date(2027, 2, 22)  # a Monday, twelve weeks with race week
    assert block.settings.race.start_time == dt.time(9, 0)


def test_missing_folder_and_file_for_a_folder(tmp_path: Path) -> None:
    assert told(tmp_path / "gone") == [
        "BLOCK: the block must be a folder with a block.toml, nothing is there."
    ]
    (tmp_path / "file").write_text("")
    with pytest.raises(InputProblems, match=r"must be a folder with a block\.toml, it is a file"):
        read_block(tmp_path / "file")
    assert told(tmp_path) == ["BLOCK/block.toml: the file must exist, nothing is there. Check the name."]


MISTAKEN = [
    (
        "[training]\nfirst_day = 2027-06-01\n",
        "BLOCK/block.toml:10: training.first_day must be before the race on Sunday 16 May 2027, "
        "not 2027-06-01.",
    ),
    (
        '[[runner]]\nname = "ínes a"\n',
        'BLOCK/block.toml:10: two runners must not share the key "ines-a", ínes a and Ines A do. '
        'Give one of them a key of its own: id = "ines-a-2".',
    ),
    (
        '[[runner]]\nname = "李"\n',
        'BLOCK/block.toml:10: a runner\'s key must be lower case letters, digits and hyphens, not "李". '
        'Give one: id = "ines-a".',
    ),
    (
        'results = [{ distance = "10 km", time = "4:41", date = 2027-01-10 }]\n',
        "BLOCK/block.toml:9: the time of Ines A on 2027-01-10 must be one that a person can run or walk, "
        '"4:41" is 4 min 41 s. Is it hours:minutes:seconds?',
    ),
    (
        'goal_time = "1:35"\n',
        "BLOCK/block.toml:9: the goal time of Ines A must be one that a person can run or walk, "
        '"1:35" is 1 min 35 s. Write 1:35:00.',
    ),
    (
        'results = [{ distance = "10 km", time = "44:10:00", date = 2027-01-10 }]\n',
        "BLOCK/block.toml:9: the time of Ines A on 2027-01-10 must be one that a person can run or walk, "
        '"44:10:00" is 44 h 10 min. Write 44:10.',
    ),
    (
        "away = [{ from = 2027-04-10, to = 2027-04-02 }]\n",
        "BLOCK/block.toml:9: the last day away of Ines A must not be before the first, 2027-04-10, "
        "not 2027-04-02.",
    ),
    (
        '[training]\ntune_ups = [{ name = "Quarry 10", date = 2027-05-30, distance = "10 km" }]\n',
        "BLOCK/block.toml:10: the tune-up race Quarry 10 must be between 2027-02-22 and the day before "
        "the race, not 2027-05-30.",
    ),
    (
        "[training]\nfirst_day = 1927-02-22\n",
        "BLOCK/block.toml:10: training.first_day must be at most 104 weeks before the race: 2025-05-18, "
        "not 1927-02-22.",
    ),
    (
        "first_day = 1927-02-22\n",
        "BLOCK/block.toml:9: the first day of Ines A must be at most 104 weeks before the race: 2025-05-18, "
        "not 1927-02-22.",
    ),
    (
        '[training]\nroster = ""\nclub = "a\\u0000b"\n',
        "BLOCK/block.toml:10: training.roster must be the name of a file, not an empty text.\n"
        "BLOCK/block.toml:11: training.club must be a file name of at most 255 plain letters, "
        "not 'a\\x00b'.",
    ),
    (
        'results = [{ distance = "10 km", time = "44:10", date = 2027-01-10, course = "." }]\n',
        'BLOCK/block.toml:9: a course file must be a file, "." is not one.',
    ),
    (
        "days = []\n",
        'BLOCK/block.toml:9: runner.days must be a list of at least one day, such as ["tuesday", '
        '"saturday"], not an empty one.',
    ),
    (
        'weekly_distance = "-40 km"\nlongest_run = "15 m"\n',
        "BLOCK/block.toml:9: runner.weekly_distance must be a distance with its unit, such as 10 km, 13.1 mi "
        "or half marathon, not '-40 km'.\n"
        "BLOCK/block.toml:10: runner.longest_run must be a distance of 1 to 1,000 km (m: metres, mi: miles), "
        "not '15 m'.",
    ),
    (
        "[limits.load]\nsingle_run_capp = 1.2\n",
        'BLOCK/block.toml:10: "load.single_run_capp" must be the name of a limit, it is not. '
        'Did you mean "load.single_run_cap"?',
    ),
    (
        '[limits.load]\nsingle_run_cap = "big"\n',
        "BLOCK/block.toml:10: limits.load.single_run_cap must look like 1.1 "
        "(times the longest run of the previous 30 days), not big.",
    ),
    (
        "[limits.load]\nsingle_run_cap = -1.1\n",
        "BLOCK/block.toml:10: limits.load.single_run_cap must be near 1.1 "
        "(times the longest run of the previous 30 days), not -1.1, it is negative.",
    ),
    (
        "[limits.load]\nfirst_week = [1.05, 0.85]\n",
        "BLOCK/block.toml:10: limits.load.first_week must be near [0.85, 1.05] "
        "(times the mean of the last 4 weeks), not [1.05, 0.85], its numbers are turned round.",
    ),
    (
        "[limits.load]\nsingle_run_window = 1000000000\n",
        "BLOCK/block.toml:10: limits.load.single_run_window must be near 30 (days), not 1000000000, "
        "it is too large.",
    ),
]


@pytest.mark.parametrize(("addition", "sentence"), MISTAKEN)
def test_what_no_single_setting_shows_is_told_with_its_line(
    tmp_path: Path, addition: str, sentence: str
) -> None:
    assert told(write(tmp_path, SMALLEST + addition)) == sentence.splitlines()


@pytest.mark.parametrize("year", ["0001", "1899", "2201", "9999"])
def test_a_year_that_no_plan_can_be_about_is_named(tmp_path: Path, year: str) -> None:
    assert told(write(tmp_path, SMALLEST.replace("2027-05-16", f"{year}-12-31"))) == [
        f"BLOCK/block.toml:3: race.date must be a date of the years 1900 to 2200, not {year}-12-31."
    ]


@pytest.mark.parametrize(
    ("course", "sentence"),
    [
        ('""', "race.course must be the name of a file, not an empty text."),
        ('{ file = " " }', "race.course.file must be the name of a file, not an empty text."),
        (r'"a\u0000b"', r"race.course must be a file name of at most 255 plain letters, not 'a\x00b'."),
        (
            f'"{"a" * 5000}"',
            f"race.course must be a file name of at most 255 plain letters, not '{'a' * 40}'.",
        ),
        ("5", "race.course must be text in quotes, not 5."),
        ('"."', 'a course file must be a file, "." is not one.'),
    ],
)
def test_a_course_that_can_be_no_file_is_named(tmp_path: Path, course: str, sentence: str) -> None:
    text = SMALLEST.replace('"half marathon"\n', f'"half marathon"\ncourse = {course}\n')
    assert told(write(tmp_path, text)) == [f"BLOCK/block.toml:6: {sentence}"]


def test_a_roster_without_a_runner_is_named(tmp_path: Path) -> None:
    """Also by ``check``, and where every row has a mistake and only good ones are asked for."""
    bare = SMALLEST.partition("[[runner]]")[0] + '[training]\nroster = "roster.csv"\n'
    write(tmp_path, "name,days\n", "roster.csv")
    assert told(write(tmp_path, bare)) == [
        "BLOCK/roster.csv: the roster must hold a runner, it has a header alone. "
        "Write one runner a row below it."
    ]
    write(tmp_path, "name,days\nAnn,blursday\n", "roster.csv")
    with pytest.raises(InputProblems, match=r'roster\.csv:2: "days" must be weekdays'):
        read_block(tmp_path, skip_bad=True)


def test_the_good_rows_are_built_whenever_a_mistake_is_found(tmp_path: Path) -> None:
    """A goal that nobody can run and a name that is there already show only once all is read."""
    bare = SMALLEST.partition("[[runner]]")[0] + '[training]\nroster = "roster.csv"\n'
    write(tmp_path, "name,goal time\nAnn,1:40:00\nBo,1:35\nann,\nCy,\n", "roster.csv")
    assert told(write(tmp_path, bare)) == [
        "BLOCK/roster.csv:3: the goal time of Bo must be one that a person can run or walk, "
        '"1:35" is 1 min 35 s. Write 1:35:00.',
        'BLOCK/roster.csv:4: two runners must not share the key "ann", ann and Ann do. '
        'Write more of the surname, or add a column "id" and give one of them ann-2.',
    ]
    block = read_block(tmp_path, skip_bad=True)
    assert [runner.key for runner in block.runners] == ["ann", "cy"]
    assert (block.rows_left_out, len(block.skipped)) == (2, 2)


def test_a_folder_with_a_name_that_no_disk_takes() -> None:
    with pytest.raises(InputProblems, match=r"must be a folder with a block\.toml, nothing is there"):
        read_block(Path("b" * 5000))


def test_a_start_in_the_hour_that_the_clocks_skip_is_named(tmp_path: Path) -> None:
    """In Lisbon 01:00 becomes 02:00 on the last Sunday of March (the European summer time directive)."""
    text = SMALLEST.replace('"Europe/Lisbon"\n', '"Europe/Lisbon"\nstart_time = "01:30"\n')
    assert told(write(tmp_path, text.replace("2027-05-16", "2027-03-28"))) == [
        "BLOCK/block.toml:5: the start of the race must be a time that the clocks of Europe/Lisbon show on "
        "2027-03-28, not 01:30, which they skip. When that hour is over it is 02:30."
    ]
    tune_up = '[training]\ntune_ups = [{ name = "Quarry 10", date = 2027-03-28, distance = "10 km", '
    assert told(write(tmp_path, f'{SMALLEST}{tune_up}start_time = "01:30" }}]\n')) == [
        "BLOCK/block.toml:10: the start of the Quarry 10 must be a time that the clocks of Europe/Lisbon "
        "show on 2027-03-28, not 01:30, which they skip. When that hour is over it is 02:30."
    ]


def test_a_day_that_is_named_twice_is_one_day(tmp_path: Path) -> None:
    block = read_block(write(tmp_path, SMALLEST + 'days = ["sunday", "tuesday", "sunday"]\n'))
    assert block.runners[0].settings.days == ("sunday", "tuesday")


def test_a_course_path_stays_inside_the_block(tmp_path: Path) -> None:
    folder = tmp_path / "block"
    folder.mkdir()
    (tmp_path / "course.gpx").write_text("")
    text = SMALLEST.replace('"half marathon"\n', '"half marathon"\ncourse = "../course.gpx"\n')
    assert told(write(folder, text)) == [
        'BLOCK/block.toml:6: a course file must be inside the block folder, not "../course.gpx". Copy it in.'
    ]
    assert told(write(folder, text.replace("../", ""))) == [
        'BLOCK/block.toml:6: a course file must exist in the block folder, "course.gpx" is not there.'
    ]


def test_a_coach_may_change_a_limit(tmp_path: Path) -> None:
    block = read_block(write(tmp_path, SMALLEST + "[limits.load]\nsingle_run_cap = 1.05\n"))
    assert block.limits.number("load.single_run_cap") == 1.05
    (note,) = block.limits.override_notes()
    assert note.rule == "load.single_run_cap"
    assert "1.05" in note.text
    assert "1.1" in note.text


@pytest.mark.parametrize(
    ("name", "key"), [("Inês A.", "ines-a"), ('Sam <3 & "Co"', "sam-3-co"), ("李", ""), ("../x", "x")]
)
def test_a_key_never_leaves_the_folder(name: str, key: str) -> None:
    assert slug(name) == key


def test_the_demo_blocks_read(tmp_path: Path) -> None:
    demos = Path(__file__).parent.parent.parent / "demo_plans"
    for folder in sorted(demos.iterdir()):
        shutil.copytree(folder, tmp_path / folder.name)
        assert read_block(tmp_path / folder.name).runners
