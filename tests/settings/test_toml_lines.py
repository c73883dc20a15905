"""Mistakes in a settings file come back as sentences with the right line."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.settings.models import BlockSettings
from planbuilder.settings.problems import InputProblems
from planbuilder.settings.toml_lines import find_lines, parse_model, read_toml

MISTAKES = """\
[race]
name = ""
date = 2027-05-16
timezome = "Europe/Lisbon"
timezone = "Europe/Lisbonn"
distance = 21.1
course = { fil = "a.gpx", laps = 0 }
[[race.note]]
at = "9"

[training]
club_nights = [
  { day = "tuesday", time = "19:00" },
  { day = "tuesdy", time = "25:00" },
]
[[runner]]
name = "A"
goal_time = "1:75:00"
results = [{ distance = "10 km", time = "5:10/km", date = 2027-01-17 }]
treadmill = { max_grade_percent = 99 }
weekly_distance = ["45 km", 5]
days = ["monday",
  "tue"]
age = 200
[[runner]]
hills = "no"
"""

SENTENCES = """\
block.toml:2: race.name must not be empty, not "".
block.toml:4: "timezome" must be a setting of race, it is not. Did you mean "timezone"?
block.toml:5: race.timezone must be a time zone name, an area and a city, such as "Europe/Lisbon", \
not 'Europe/Lisbonn'.
block.toml:6: race.distance must be text with its unit, such as "10 km", not the bare number 21.1.
block.toml:7: race.course.file must be given, it is missing. It is: path of a GPX or CSV file inside the \
block folder.
block.toml:7: race.course.laps must be at least 1, not 0.
block.toml:7: "fil" must be a setting of race.course, it is not. Did you mean "file"?
block.toml:8: race.note.text must be given, it is missing. It is: what the coach wants said there.
block.toml:9: race.note.at must be a distance with its unit, such as 10 km, 13.1 mi or half marathon, not '9'.
block.toml:14: training.club_nights.day must be one of monday, tuesday, wednesday, thursday, friday, \
saturday, sunday, not "tuesdy". Did you mean "tuesday"?
block.toml:14: training.club_nights.time must be a time of day such as "19:00", not '25:00'.
block.toml:18: runner.goal_time must be a time with minutes and seconds below 60, such as 1:38:00, \
not '1:75:00'.
block.toml:19: runner.results.time must be a time such as 1:38:00 or 44:10, not the pace '5:10/km'.
block.toml:20: runner.treadmill.max_grade_percent must be at most 40.0, not 99.
block.toml:21: runner.weekly_distance must be text with its unit, such as "40 km", not the bare number 5.
block.toml:23: runner.days must be one of monday, tuesday, wednesday, thursday, friday, saturday, sunday, \
not "tue". Did you mean "tuesday"?
block.toml:24: runner.age must be at most 100, not 200.
block.toml:25: runner.name must be given, it is missing. It is: first name and an initial.
block.toml:26: runner.hills must be true or false, not "no".
"""


def sentences(tmp_path: Path, text: str) -> list[str]:
    path = tmp_path / "block.toml"
    path.write_text(text)
    data, lines = read_toml(path, shown_as="block.toml")
    _, problems = parse_model(BlockSettings, data, lines, shown_as="block.toml")
    return [str(problem) for problem in problems]


def test_every_mistake_of_a_file_is_told_in_one_run_with_its_line(tmp_path: Path) -> None:
    assert sentences(tmp_path, MISTAKES) == SENTENCES.splitlines()


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (
            "[race]\nname = Saltmarsh\n",
            r"block.toml:2: the file must be valid TOML, here the reader says: invalid value",
        ),
        ("[race\n", r"block.toml:1: the file must be valid TOML"),
        ('[race]\nname = "a"\nname = "b"\n', r"block.toml:3: the file must be valid TOML"),
        ('name = """\n\n', r"block.toml:\d: the file must be valid TOML"),
    ],
)
def test_a_syntax_error_is_told_with_its_line(tmp_path: Path, text: str, sentence: str) -> None:
    with pytest.raises(InputProblems, match=sentence):
        sentences(tmp_path, text)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("a = 1\nage = " + "9" * 6000, "x:2: a number must have a few digits, not thousands. Shorten it."),
        (
            "a = 1\nb = " + "[" * 5000 + "]" * 5000,
            "x:2: lists and tables must stand in one another a few deep, not hundreds. Flatten them.",
        ),
    ],
)
def test_what_the_reader_itself_breaks_on_is_told_with_its_line(
    tmp_path: Path, text: str, sentence: str
) -> None:
    (tmp_path / "x").write_text(text)
    with pytest.raises(InputProblems) as caught:
        read_toml(tmp_path / "x", shown_as="x")
    assert str(caught.value) == sentence


def test_a_missing_file_a_folder_and_other_bytes_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match=r"gone.toml: the file must exist, nothing is there"):
        read_toml(tmp_path / "gone.toml", shown_as="gone.toml")
    with pytest.raises(InputProblems, match=r"here: this must be a file, not a folder"):
        read_toml(tmp_path, shown_as="here")
    (tmp_path / "latin.toml").write_bytes("a = 1\nname = 'Zoé'\n".encode("latin-1"))
    with pytest.raises(InputProblems, match=r"latin.toml:2: the file must be UTF-8 text"):
        read_toml(tmp_path / "latin.toml", shown_as="latin.toml")


def test_a_byte_order_mark_is_no_mistake(tmp_path: Path) -> None:
    (tmp_path / "bom.toml").write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert read_toml(tmp_path / "bom.toml", shown_as="bom.toml")[0] == {"a": 1}


KEYS = st.sampled_from(["a", "b", "c", "d"])
VALUES = st.recursive(
    st.sampled_from(["1", '"x # y"', "true", "2027-05-16", '"""two\nlines"""', "'lit'"]),
    lambda inner: st.one_of(
        st.lists(inner, min_size=1, max_size=3).map(lambda items: "[\n  " + ",\n  ".join(items) + ",\n]"),
        st.lists(inner, min_size=1, max_size=3).map(lambda items: "[" + ", ".join(items) + "]"),
    ),
    max_leaves=5,
)


@given(
    st.lists(st.tuples(KEYS, VALUES), min_size=1, max_size=4, unique_by=lambda pair: pair[0]), st.booleans()
)
def test_every_key_of_a_valid_file_has_the_line_on_which_it_stands(
    pairs: list[tuple[str, str]], tables: bool
) -> None:
    head = "# remark\n\n[[t]]\n" if tables else "# remark\n\n"
    text, expected = head, {}
    for key, value in pairs:
        path = ("t", 0, key) if tables else (key,)
        expected[path] = text.count("\n") + 1
        text += f"{key} = {value}\n"
    assert tomllib.loads(text)
    lines = find_lines(text)
    assert {path: lines[path] for path in expected} == expected
