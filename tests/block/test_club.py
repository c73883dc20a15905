"""club.toml: nights that several blocks share, and what the coach typed for a date."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from planbuilder.block import read_block
from planbuilder.block.club import write_night
from planbuilder.settings.problems import InputProblems

BLOCK = """\
[race]
name = "Saltmarsh Half"
date = 2027-05-16
timezone = "Europe/Lisbon"
distance = "half marathon"

[training]
club = "../club.toml"

[[runner]]
name = "Ines A"
"""
CLUB = """\
# what the club shares
club_nights = [{ day = "tuesday", time = "19:00", place = "the track" }]

[nights]
2027-03-02 = "8 x 3 min, 90 s jog, canal" # lights!
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "block").mkdir()
    (tmp_path / "block" / "block.toml").write_text(BLOCK)
    (tmp_path / "club.toml").write_text(CLUB)
    return tmp_path


def test_a_block_takes_the_nights_of_its_club(folder: Path) -> None:
    block = read_block(folder / "block")
    (night,) = block.settings.training.club_nights
    assert night.time == dt.time(19)
    typed = block.nights[dt.date(2027, 3, 2)]
    assert typed.place == "canal"
    assert typed.template.name in block.library


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("8 x 3 min, 90 s jog, canal", "see you", r"club.toml:5: the night must be a session such as"),
        (
            "2027-03-02",
            "2027-03-03",
            r"club.toml:5: 2027-03-03 must be a club night \(tuesday\), it is a wednesday",
        ),
        ("2027-03-02", "march", r'club.toml:5: a night must have a date such as 2027-03-02, not "march"'),
        ("nights]", "nigths]", r'club.toml:4: "nigths" must be a setting of the file'),
    ],
)
def test_a_mistake_in_the_club_file_is_told_with_its_line(
    folder: Path, old: str, new: str, sentence: str
) -> None:
    path = folder / "club.toml"
    path.write_text(path.read_text().replace(old, new))
    with pytest.raises(InputProblems, match=sentence):
        read_block(folder / "block")


def test_a_club_file_may_stand_beside_the_block_and_not_further_away(folder: Path) -> None:
    path = folder / "block" / "block.toml"
    path.write_text(BLOCK.replace("../club.toml", "../../club.toml"))
    with pytest.raises(InputProblems, match=r"the club file must be in the block folder or beside it"):
        read_block(folder / "block")


def test_a_night_is_written_down_and_every_comment_stays(folder: Path) -> None:
    path = folder / "club.toml"
    write_night(path, dt.date(2027, 3, 9), "5 x 6 min, 60 s jog")
    text = path.read_text()
    assert text.startswith("# what the club shares\n")
    assert "# lights!" in text
    assert '2027-03-09 = "5 x 6 min, 60 s jog"' in text
    assert len(read_block(folder / "block").nights) == 2


def test_a_night_may_have_its_day_in_words_but_one_line_alone(folder: Path) -> None:
    file = folder / "club.toml"
    file.write_text(CLUB.replace("2027-03-02 =", '"2 March 2027" ='))
    assert list(read_block(folder / "block").nights) == [dt.date(2027, 3, 2)]
    file.write_text(CLUB + '"2 March 2027" = "off"\n')
    with pytest.raises(InputProblems, match=r"club.toml:6: a night must have one line, .* for 2027-03-02"):
        read_block(folder / "block")
