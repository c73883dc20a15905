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
from planbuilder.block.history import STATE_FOLDER, read_history
from planbuilder.block.nights import nights_as_accepted, waiting_nights, waiting_words
from planbuilder.block.survey import survey
from planbuilder.pipeline import plan_now, plan_race_day, prepare
from planbuilder.rules.typed_night import TypedNight
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
    waits: str | None = None  # what is typed by now and in no accepted plan yet; "" where the line went
    easy: bool = False  # an easy run for all


def night_on(block: Block, date: dt.date, *, today: dt.date | None = None) -> Night:
    """What the squad does on a club night by the plans that hold; what waits is looked for from a day on.

    Raises InputProblems where nobody comes on that date.
    """
    from planbuilder.outputs.squad import night_sheets, squad_row

    prepared = prepare(block, block.runners)
    plans = (plan_now(prepared, runner).plan for runner in block.runners)
    rows = [squad_row(plan, with_weeks=False) for plan in plans]
    history, nights = prepared.records.history, nights_as_accepted(prepared.block, prepared.records.history)
    sheets = [sheet for sheet in night_sheets(rows, block.limits, nights) if sheet.date == date]
    if not sheets:
        raise InputProblems([_nobody_comes(block, date)])
    night, waits = nights.get(date), None
    if today is not None and date in waiting_nights(prepared.block, history, today):
        waits = block.nights[date].text if date in block.nights else ""
    if night is None or night.text == waits:  # a plan of before its lines were kept
        return Night(sheets[0], "", typed=False, waits=waits)
    typed = date in block.nights if waits is None else not night.proposed
    return Night(sheets[0], night.text, typed, waits, runs_easily(night))


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


def nights_not_accepted(block: Block, today: dt.date) -> str:
    """That nights of days to come wait for a re-plan, in a sentence; nothing where none does."""
    return waiting_words(block, read_history(block.folder / STATE_FOLDER), today)


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

    rows, typed, off = [], dict[dt.date, TypedNight](), set[dt.date]()
    for block in blocks:
        prepared = prepare(block, block.runners)
        rows += [squad_row(plan_now(prepared, runner).plan) for runner in block.runners]
        typed |= nights_as_accepted(prepared.block, prepared.records.history)
        off |= set(block.off)
    next_race = min(blocks, key=lambda block: (block.settings.race.date, block.key))
    ground = survey(next_race, ())
    race = plan_race_day(next_race, next_race.runners[0])
    frame = board_frame(race, ground.course, ground.features)
    return board_of(
        frame, rows, limits=next_race.limits, typed=typed, off=sorted(off), linked=False, course_url=""
    )
