"""edits.toml: read with the line of every mistake, written without touching a byte of what stands there."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from planbuilder.block import Block, read_block
from planbuilder.block.edits import (
    add_edit,
    forget_edits,
    forget_health,
    nights_of_all,
    read_edits,
    remove_edit,
)
from planbuilder.settings.problems import InputProblems

SQUAD = Path(__file__).parent.parent.parent / "demo_plans" / "rolling-10k"
DAY = dt.date(2027, 4, 20)
MOVE = {"do": "move", "session": "w03-long", "to": dt.date(2027, 4, 24), "runner": "Bea K", "on": DAY}
ILL = {"do": "ill", "from": DAY, "runner": "bea-k", "on": DAY}
SKIP = {"do": "skip", "session": "w03-long", "runner": "Bea K", "on": DAY}
GOAL = {"do": "goal", "runner": "Bea K", "on": DAY}
RESULT = {"do": "result", "runner": "Bea K", "on": DAY, "date": dt.date(2027, 4, 18), "distance": "half"}
BY_HAND = """\
# ours, do not lose this

[[edit]]   # because of the bus
do = "skip"
session = "w02-easy"
runner = "Bea K"
on = 2027-04-15
"""


@pytest.fixture
def block(tmp_path: Path) -> Block:
    return read_block(Path(shutil.copytree(SQUAD, tmp_path / "block")))


def test_an_added_edit_leaves_what_a_person_wrote_as_it_was(block: Block) -> None:
    path = block.folder / "edits.toml"
    path.write_text(BY_HAND)
    (added,) = add_edit(block, MOVE)
    assert added.line.line == "edit/move/bea-k/w03-long"
    assert path.read_text().startswith(BY_HAND)
    assert [one.line.edit.do for one in read_edits(block)] == ["skip", "move"]


@pytest.mark.parametrize("before", ["", BY_HAND, BY_HAND.rstrip("\n") + "\n# last word\n"])
def test_taking_an_edit_out_again_restores_the_bytes(block: Block, before: str) -> None:
    path = block.folder / "edits.toml"
    if before:
        path.write_text(before)
    (added,) = add_edit(block, MOVE)
    assert remove_edit(block, added.line.line)
    assert (path.read_text() if path.exists() else "") == before
    assert not remove_edit(block, added.line.line)


def test_an_edit_between_others_can_be_taken_out_and_comments_stay(block: Block) -> None:
    path = block.folder / "edits.toml"
    path.write_text(BY_HAND)
    (first,), _ = add_edit(block, MOVE), add_edit(block, ILL)
    remove_edit(block, first.line.line)
    text = path.read_text()
    assert text.startswith(BY_HAND)
    assert [one.line.edit.do for one in read_edits(block)] == ["skip", "ill"]


def test_an_id_says_nothing_about_health(block: Block) -> None:
    niggle = {**ILL, "do": "niggle", "place": "achilles", "pain": 4}
    assert add_edit(block, niggle)[0].line.line == "edit/niggle/bea-k/2027-04-20"


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({**MOVE, "runner": "Bee K"}, 'the runner must be one of .*, not "Bee K". Did you mean "Bea K"'),
        ({**MOVE, "to": "saturday"}, "to must be a date"),
        ({**ILL, "to": dt.date(2027, 4, 1)}, "the last day must not be before the first"),
        ({**SKIP, "do": "replace", "kind": "intervalls"}, 'not "intervalls". Did you mean "intervals"'),
        ({**SKIP, "do": "skipp"}, 'do must be one of .*, not "skipp". Did you mean "skip"'),
        ({**SKIP, "day": DAY}, '"day" must be a setting of the file, it is not'),
        ({**ILL, "do": "niggle", "place": "elbow", "pain": 2}, "place must be one of"),
        ({**ILL, "do": "niggle", "place": "calf", "pain": 12}, "pain must be at most 10"),
        ({**GOAL, "goal_time": "0:44"}, r'edit: the goal time must be .*, "0:44" is 44 s\. Write 44:00\.'),
        (
            {**RESULT, "time": "1:22"},
            r'edit: the time of the result must be .*, "1:22" is 1 min 22 s\. Write',
        ),
    ],
)
def test_a_wrong_edit_is_named_and_nothing_is_written(
    block: Block, values: dict[str, object], said: str
) -> None:
    with pytest.raises(InputProblems, match=said):
        add_edit(block, values)
    assert not (block.folder / "edits.toml").exists()


def test_a_mistake_by_hand_is_named_with_its_line(block: Block) -> None:
    (block.folder / "edits.toml").write_text(BY_HAND.replace('runner = "Bea K"', 'runner = "Bee K"'))
    with pytest.raises(InputProblems, match=r"edits\.toml:6: the runner must be one of"):
        read_edits(block)


def test_a_persons_health_can_be_forgotten_and_other_edits_stay(block: Block) -> None:
    add_edit(block, MOVE)
    add_edit(block, ILL)
    add_edit(block, {**ILL, "do": "niggle", "place": "knee", "pain": 3})
    add_edit(block, {**ILL, "runner": "Odile R"})
    (bea, *_) = block.runners
    assert forget_health(block, bea) == 2
    assert [(one.runner, one.line.edit.do) for one in read_edits(block)] == [
        ("bea-k", "move"),
        ("odile-r", "ill"),
    ]
    assert "knee" not in (block.folder / "edits.toml").read_text()
    assert forget_edits(block, bea) == 1


def test_the_nights_of_the_whole_squad_are_known_by_every_day_they_stood_on(block: Block) -> None:
    night, later = dt.date(2027, 4, 27), dt.date(2027, 4, 28)
    everyone = {"runner": "everyone", "on": DAY}
    add_edit(block, {"do": "move", "session": str(night), "to": later, **everyone})
    assert nights_of_all(read_edits(block)) == {night: later}
    add_edit(block, {"do": "skip", "session": str(night), **everyone})
    add_edit(block, {**SKIP, "session": "2027-05-04"})  # one runner's own word
    assert nights_of_all(read_edits(block)) == {night: None, later: None}
