"""A club night of the squad, and one board over several blocks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from planbuilder.block import Block
from planbuilder.block.club import write_night
from planbuilder.block.survey import survey
from planbuilder.pipeline import plan_all, plan_now, plan_race_day, prepare
from planbuilder.schedule.group_night import runs_easily
from planbuilder.settings.problems import InputProblems, Problem

if TYPE_CHECKING:
    from planbuilder.outputs.squad import NightSheet


@dataclass(frozen=True, slots=True)
class Night:
    """A club night of a squad."""

    sheet: NightSheet
    line: str  # what was typed or is proposed; "" where everybody goes by their own plan
    typed: bool
    easy: bool = False  # an easy run for all


def night_on(block: Block, date: dt.date) -> Night:
    """What the squad does on a club night. Raises InputProblems where nobody comes on that date."""
    from planbuilder.outputs.squad import night_sheets, squad_row

    prepared = prepare(block, block.runners)
    plans = (plan_now(prepared, runner).plan for runner in block.runners)
    rows = [squad_row(plan, with_weeks=False) for plan in plans]
    sheets = [sheet for sheet in night_sheets(rows, block.limits) if sheet.date == date]
    if not sheets:
        days = ", ".join(sorted({night.day for night in block.settings.training.club_nights}))
        must = f"{date} must be a club night of this block ({days or 'it has none'})"
        raise InputProblems([Problem(str(block.folder), None, must, "nobody comes on it")])
    nights = prepared.block.nights
    line = nights[date].text if date in nights else ""
    return Night(sheets[0], line, date in block.nights, date in nights and runs_easily(nights[date]))


def accept_night(block: Block, date: dt.date, line: str) -> Path:
    """Write a night down in the club's file. Raises InputProblems where the block names no such file."""
    club = block.settings.training.club
    if club is None:
        must = 'training.club must name the file of the club\'s nights, such as club = "club.toml"'
        raise InputProblems([Problem(str(block.folder / "block.toml"), None, must, "it names none")])
    write_night(block.folder / club, date, line)
    return block.folder / club


def board_over(blocks: Sequence[Block]) -> bytes:
    """One board over several blocks that share their club nights."""
    from planbuilder.outputs.pages import board_frame, board_of
    from planbuilder.outputs.squad import squad_row

    rows = [squad_row(plan) for block in blocks for plan in plan_all(block)]
    next_race = min(blocks, key=lambda block: (block.settings.race.date, block.key))
    ground = survey(next_race, ())
    race = plan_race_day(next_race, next_race.runners[0])
    frame = board_frame(race, ground.course, ground.features)
    off = sorted({date for block in blocks for date in block.off})
    return board_of(frame, rows, limits=next_race.limits, off=off, linked=False, course_url="")
