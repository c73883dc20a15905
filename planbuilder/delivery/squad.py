"""A club night of the squad, and one board over several blocks."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from planbuilder.block import Block
from planbuilder.block.club import other_blocks, write_night
from planbuilder.block.edits import edited_nights, is_edited
from planbuilder.block.survey import survey
from planbuilder.pipeline import plan_all, plan_now, plan_race_day, prepare
from planbuilder.schedule.group_night import runs_easily
from planbuilder.settings.edit_models import Move
from planbuilder.settings.models import WEEKDAYS
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.units import say_date

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
    sheets = [sheet for sheet in night_sheets(rows, block.limits, block.nights) if sheet.date == date]
    if not sheets:
        raise InputProblems([_nobody_comes(block, date)])
    nights = prepared.block.nights
    line = nights[date].text if date in nights else ""
    return Night(sheets[0], line, date in block.nights, date in nights and runs_easily(nights[date]))


def _nobody_comes(block: Block, date: dt.date) -> Problem:
    """Why there is no club night on a date."""
    held = {night.day for night in block.settings.training.club_nights}
    days = ", ".join(day for day in WEEKDAYS if day in held)
    must, race = f"{date} must be a club night that is held ({days or 'there are none'})", block.settings.race
    edited = edited_nights(block).get(date)
    if WEEKDAYS[date.weekday()] not in held:
        found = f"it is a {WEEKDAYS[date.weekday()]}"
    elif isinstance(edited, Move):
        found = f"it was moved to {say_date(edited.to)} for everyone"
    elif edited is not None:
        found = "it was called off for everyone"
    elif date >= race.date:
        found = f"the race is on {say_date(race.date)}"
    elif date < block.first_day:
        found = f"the block begins on {say_date(block.first_day)}"
    else:
        found = "nobody comes on it"
    return Problem(str(block.folder), None, must, found)


def other_blocks_to_tell(block: Block, date: dt.date) -> tuple[Path, ...]:
    """The blocks of the same club in which nothing was said yet of a night that is changed here."""
    club = block.settings.training.club
    return () if club is None else tuple(
        folder for folder in other_blocks(block.folder, club) if not is_edited(folder, date)
    )  # fmt: skip


def out_of_step(blocks: Sequence[Block]) -> Iterator[str]:
    """The nights that one block of a club moved or called off for everyone and another did not."""
    for block in blocks:
        for date in sorted(edited_nights(block)):
            for folder in other_blocks_to_tell(block, date):
                if any(one.folder.resolve() == folder.resolve() for one in blocks):
                    here, there = block.folder.name, folder.name
                    yield f"{say_date(date)} was moved or called off for everyone in {here}, not in {there}."


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
    typed = {date: night for block in blocks for date, night in block.nights.items()}
    return board_of(frame, rows, limits=next_race.limits, typed=typed, off=off, linked=False, course_url="")
