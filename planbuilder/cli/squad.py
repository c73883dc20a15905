"""Commands for a squad: a club night, and a board over several blocks."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planbuilder.cli.options import (
    DATE,
    FOLDER,
    today_of,
    today_option,
    units_option,
)
from planbuilder.cli.terminal import aside, open_block, say, tell_of_nights, typed
from planbuilder.units import say_date

if TYPE_CHECKING:
    from planbuilder.units import System


@click.command()
@click.argument("block", type=FOLDER)
@click.argument("date", type=DATE)
@click.option("--accept", is_flag=True, help="Write what is proposed down in the club's file.")
@units_option
@today_option
def night(block: Path, date: dt.date, accept: bool, units: System | None) -> None:
    """What the squad does on a club night, typed or proposed."""
    from planbuilder import delivery
    from planbuilder.outputs.night_text import night_text

    read = open_block(block)
    if date in read.off:
        say(f"{say_date(date, year=True)}: no club night ({read.off[date]}).")
        tell_of_nights(read)
        return
    found = delivery.night_on(read, date, today=today_of(read.settings.race.timezone))
    system: System = units or read.settings.race.markers
    say(night_text(found.sheet, line=found.line, typed=found.typed, system=system, easy=found.easy))
    if found.waits is not None:
        said = f'"{found.waits}" is typed' if found.waits else "the line was taken out"
        say(f"By now {said}, not yet accepted. See: planbuilder replan {typed(block)}")
        return
    if accept and found.line and not found.typed:
        say(f"Wrote it down in {delivery.accept_night(read, date, found.line)}.")
    elif accept:
        say("There is nothing to write down: " + ("it is typed." if found.typed else "nothing is proposed."))


@click.command()
@click.argument("blocks", type=FOLDER, nargs=-1, required=True)
@click.option("--out", type=FOLDER, required=True, help="The file to write.")
@today_option
def board(blocks: tuple[Path, ...], out: Path) -> None:
    """One board over several BLOCKS that share their club nights."""
    from planbuilder import delivery
    from planbuilder.outputs.safe_write import write_whole

    read = [open_block(block) for block in blocks]
    write_whole(out, delivery.board_over(read))
    say(f"Wrote {out}.")
    for text in delivery.out_of_step(read):
        aside(text)
    for one in read:
        tell_of_nights(one)
