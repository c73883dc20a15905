"""Who is named is found by name, key or a first name that one has; what was never written has no line."""

from __future__ import annotations

import datetime as dt
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder.block import Block, BlockRunner, read_block
from planbuilder.block.chat import pasted
from planbuilder.block.edits import add_edit, read_edits
from planbuilder.block.log import add_lines, forget_lines, register
from planbuilder.block.log_table import LogLine
from planbuilder.settings.problems import InputProblems
from tests.block.whole_log import read_log

SQUAD = Path(__file__).parent.parent.parent / "demo_plans" / "rolling-10k"
DAY = dt.date(2027, 4, 20)


@pytest.fixture
def block(tmp_path: Path) -> Block:
    return read_block(Path(shutil.copytree(SQUAD, tmp_path / "block")))


@pytest.mark.parametrize("name", ["Bea K", "bea k", "bea-k", "Bea", " bea "])
def test_a_first_name_that_one_runner_has_is_enough_everywhere(block: Block, name: str) -> None:
    assert block.runners_named(name)[0].key == "bea-k"
    add_edit(block, {"do": "skip", "session": "w03-long", "runner": name, "on": DAY})
    assert [one.runner for one in read_edits(block)] == ["bea-k"]
    (logged,) = add_lines(block, [LogLine("2027-04-10", name)])
    assert logged.runner == "bea-k"
    (line,) = register(block, DAY, {"bea-k": "w03-club"}, [name])
    assert line.went == "missed"


def test_a_first_name_of_two_is_asked_about(block: Block) -> None:
    bea = block.runners_named("Bea K")[0]
    other = BlockRunner("bea-m", bea.settings.model_copy(update={"name": "Bea M"}))
    two = replace(block, runners=(*block.runners, other))
    with pytest.raises(InputProblems, match='"Bea" must be one runner, not Bea K or Bea M'):
        two.runners_named("Bea")


def _named(block: Block, *names: str) -> Block:
    """The squad under other names."""
    runners = tuple(
        replace(one, settings=one.settings.model_copy(update={"name": name}))
        for one, name in zip(block.runners, names, strict=False)
    )
    return replace(block, runners=runners)


@pytest.mark.parametrize("name", ["Zoë K", "Zoe K", "zoe", "ZOË"])
def test_accents_may_be_left_out_where_one_runner_is_meant(block: Block, name: str) -> None:
    block = _named(block, "Zoë K", "Jörg Ä")
    assert block.runners_named(name)[0].settings.name == "Zoë K"


def test_a_name_as_written_goes_before_one_with_other_accents(block: Block) -> None:
    block = _named(block, "Zoë K", "Zoe K")
    assert [block.runners_named(name)[0].settings.name for name in ("Zoë K", "Zoe K", "zoe")] == [
        "Zoë K",
        "Zoe K",
        "Zoe K",
    ]


def test_lines_under_a_first_name_are_forgotten_with_the_person(block: Block) -> None:
    add_lines(block, [LogLine("2027-04-10", "Bea"), LogLine("2027-04-10", "Odile R")])
    assert forget_lines(block, block.runners_named("Bea K")[0]) == 1
    assert [one.runner for one in read_log(block)] == ["odile-r"]


def test_what_was_never_written_cites_no_line(block: Block) -> None:
    with pytest.raises(InputProblems, match=r"^edit: the kind must be one of \w+, .*, not \"flying\"\.$"):
        add_edit(
            block, {"do": "replace", "session": "w03-long", "kind": "flying", "runner": "Bea", "on": DAY}
        )
    with pytest.raises(InputProblems, match=r"^log: effort must be an effort from 0 to 10"):
        add_lines(block, [LogLine("2027-04-10", "Bea K", effort="12")])


def test_a_mistake_that_stands_in_the_file_keeps_its_line(block: Block) -> None:
    (block.folder / "log.csv").write_text("date,runner\n2027-04-10,Nobody\n", "utf-8")
    with pytest.raises(InputProblems, match=r"log\.csv:2: the runner must be one of"):
        add_lines(block, [LogLine("2027-04-10", "Bea K")])


def test_a_pasted_line_that_is_not_understood_says_why(block: Block) -> None:
    text = "morning all\nBea K | w01-long | done | 2027-04-10\nBea K | w01-long\n"
    text += "Bea K | w01-easy | ok | 2027-04-11\n"
    found = pasted(text, block)
    assert [number for number, _ in found.lines] == [2]
    assert [str(one).partition(" Such as")[0] for one in found.problems] == [
        "pasted lines:3: a line must have at least four parts between bars, not 2.",
        'pasted lines:4: the third part must be one of done, part, missed, not "ok".',
    ]
