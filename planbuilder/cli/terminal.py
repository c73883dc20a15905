"""What the commands share on the terminal: a block opened, words on stdout and on stderr."""

from __future__ import annotations

import contextlib
import os
import shlex
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from planbuilder.block import Block
    from planbuilder.plan.types import Plan

_MIN_WIDTH, _MAX_WIDTH = 60, 110


def open_block(folder: Path, *, skip_bad: bool = False, tell_log: bool = True) -> Block:
    """A block, with what is passed over in its roster and its log on stderr."""
    from planbuilder.block import read_block
    from planbuilder.block.history import HISTORY_FILE, STATE_FOLDER, is_torn
    from planbuilder.block.living import passed_over_in_log

    tell_of_what_is_passed_over()
    read = read_block(folder, skip_bad=skip_bad)
    for problem in (*read.skipped, *(passed_over_in_log(read) if tell_log else ())):
        aside(str(problem))
    state = folder / STATE_FOLDER
    if is_torn(state):
        where = state / HISTORY_FILE
        aside(
            f"{where}: its last line was cut off and is passed over: what was accepted last does not hold. "
            "Put back your copy of the state folder, or look at: planbuilder replan."
        )
    return read


def tell_of_what_is_passed_over() -> None:
    """Tell on stderr of each recording and route that is left out, once in a command."""
    import logging

    from planbuilder.settings.problems import PASSED_OVER

    told: set[str] = click.get_current_context().meta.setdefault("planbuilder.told", set())

    class Tell(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            text = record.getMessage()
            if text not in told:
                told.add(text)
                aside(text)

    logging.getLogger(PASSED_OVER).handlers[:] = [Tell()]


def tell_of_nights(block: Block) -> None:
    """Whether nights were typed that the accepted plans do not hold yet."""
    from planbuilder import delivery
    from planbuilder.cli.options import today_of

    if waits := delivery.nights_not_accepted(block, today_of(block.settings.race.timezone)):
        aside(waits)


def say(text: str) -> None:
    """Words on stdout. A reader who has gone has heard enough; CannotWrite where no more fits."""
    try:
        click.echo(text, nl=not text.endswith("\n"))
    except OSError as problem:
        with contextlib.suppress(OSError, ValueError):  # what is left in the buffer goes nowhere
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        if isinstance(problem, BrokenPipeError):
            sys.exit(0)
        from planbuilder.settings.problems import CannotWrite

        raise CannotWrite(f"standard output: could not be written ({problem.strerror or problem}).") from None


def aside(text: str) -> None:
    click.echo(text, err=True)


def typed(path: Path) -> str:
    """A path as it is typed in a shell."""
    return shlex.quote(str(path))


def tell_of_health(text: str, readers: str) -> None:
    """Tell on stderr where a reason speaks of health: it stands as its writer put it."""
    from planbuilder.settings.health_words import health_words

    if words := health_words(text):
        aside(f"Mind: this speaks of health ({', '.join(words)}), and {readers} as you wrote it.")


def width_here() -> int:
    return max(_MIN_WIDTH, min(_MAX_WIDTH, shutil.get_terminal_size().columns))


def no_session(block: Path, session: str, plans: Sequence[Plan]) -> Exception:
    from planbuilder.block.named import no_session as problem
    from planbuilder.settings.problems import InputProblems

    ids = {one.id for plan in plans for one in plan.sessions}
    return InputProblems([problem(session, ids, where=str(block))])
