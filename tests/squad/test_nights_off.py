"""A club night that is off: nobody comes, every week is planned without it, and everything says so."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from planbuilder import pipeline
from planbuilder.block import Block, read_block
from planbuilder.block.club import night_off
from planbuilder.cli import cli
from planbuilder.delivery import board_over
from planbuilder.living.edited import check_session
from planbuilder.outputs.squad import night_sheets, squad_row
from planbuilder.plan.types import Plan
from planbuilder.settings.problems import InputProblems
from tests.squad.squads import FIRST_DAY, write_squad

OFF = FIRST_DAY + dt.timedelta(days=36)  # the Tuesday of week 6
NIGHTS = {
    FIRST_DAY + dt.timedelta(days=29): "6 x 5 min threshold, 75 s jog",
    OFF: "Off",
}


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> tuple[Block, list[Plan]]:
    block = read_block(write_squad(tmp_path_factory.mktemp("squad"), 7, nights=NIGHTS))
    return block, list(pipeline.plan_all(block))


def test_nobody_has_a_club_session_on_a_night_that_is_off(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    others = {session.date for plan in plans for session in plan.sessions if session.role == "club"}
    assert OFF not in others
    assert OFF + dt.timedelta(days=7) in others
    assert OFF not in {sheet.date for sheet in night_sheets(map(squad_row, plans), block.limits)}


def test_the_week_is_planned_as_for_a_runner_without_that_night(squad: tuple[Block, list[Plan]]) -> None:
    """Own days, own hours: who runs on that Tuesday runs alone, from any hour."""
    block, plans = squad
    on_it = [session for plan in plans for session in plan.sessions if session.date == OFF]
    assert on_it
    assert {(session.role, session.start_time, session.group_ends) for session in on_it} <= {
        (role, None, None) for role in ("easy", "key", "test", "strength", "cross")
    }
    for _, breaches in pipeline.check_block(block):
        assert not [one.text for one in breaches if not one.excepted]


def test_the_nights_behind_one_that_is_off_hold_work_as_ever(tmp_path: Path) -> None:
    """A week without a club night is planned like any other, so what comes behind it is proposed as usual."""

    def kinds(folder: Path) -> list[str]:
        block = read_block(folder)
        nights = pipeline.prepare(block, block.runners).block.nights
        return [night.base for date, night in sorted(nights.items()) if date > OFF]

    usual = kinds(write_squad(tmp_path / "usual", 9))
    behind = kinds(write_squad(tmp_path / "off", 9, nights={OFF: "off"}))
    assert len(behind) == len(usual)
    assert abs(behind.count("group_easy") - usual.count("group_easy")) <= 1


def test_board_and_night_say_that_there_is_no_club_night(squad: tuple[Block, list[Plan]]) -> None:
    block, _ = squad
    page = board_over([block]).decode()
    assert re.search(r"<b>Tue(sday)? 2 Mar(ch)?</b>: no club night", page)
    told = CliRunner().invoke(cli, ["night", str(block.folder), str(OFF)])
    assert told.exit_code == 0
    assert "no club night" in told.output
    assert "club.toml:" in told.output


def test_an_edit_of_a_night_that_is_off_says_where_that_is_written(squad: tuple[Block, list[Plan]]) -> None:
    block, _ = squad
    values = {"kind": "skip", "runner": "everyone", "session": str(OFF)}
    with pytest.raises(InputProblems, match=r"club\.toml:\d+.*is off for everybody"):
        check_session(block, values)
    assert night_off(block.off, str(OFF + dt.timedelta(days=7))) is None


def test_a_block_without_a_club_file_may_call_nights_off_itself(tmp_path: Path) -> None:
    folder = write_squad(tmp_path, 2)
    file = folder / "block.toml"
    file.write_text(
        file.read_text("utf-8").replace("[training]", f"[training]\nnights_off = [{OFF}]"), "utf-8"
    )
    block = read_block(folder)
    assert set(block.off) == {OFF}
    assert not [
        one
        for plan in pipeline.plan_all(block)
        for one in plan.sessions
        if one.role == "club" and one.date == OFF
    ]
