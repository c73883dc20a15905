"""A chat into which runners pasted the lines of their page.

Receives: the whole text of the chat.
Gives: lines of the log with the number they stand on, and what looked like one and is none.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple, get_args

from planbuilder.block.log_table import LogLine
from planbuilder.block.types import Block, BlockRunner
from planbuilder.schedule.replan import Went
from planbuilder.settings.problems import Problem, did_you_mean

PASTED_FORM: Final = "Ines A | w07-long | done | effort 4 | 2027-04-11"


class Pasted(NamedTuple):
    """What a chat held: lines with the number they stand on, and what looked like one and is none."""

    lines: tuple[tuple[int, LogLine], ...]
    problems: tuple[Problem, ...]


def pasted(text: str, block: Block) -> Pasted:
    """The lines that runners sent from their page, out of a chat: everything else in it is passed over.

    A line with bars that is not of that form, or is nobody's, is a problem with its number.
    """
    found: list[tuple[int, LogLine]] = []
    problems: list[Problem] = list(_unread(text))
    for number, raw in enumerate(text.splitlines(), start=1):
        parts = [part.strip() for part in raw.split("|")]
        if len(parts) < 4 or parts[2] not in get_args(Went):
            continue
        runner = _sender(parts[0], block)
        if runner is None:
            names = [one.settings.name for one in block.runners]
            problems.append(
                Problem(
                    "pasted lines",
                    number,
                    f"the line must begin with the name of a runner ({', '.join(names)})",
                    f'not "{parts[0]}"',
                    did_you_mean(parts[0], names),
                )
            )
            continue
        found.append((number, _from_page(runner, parts[1], parts[2], parts[3:])))
    return Pasted(tuple(found), tuple(sorted(problems, key=lambda one: one.line or 0)))


def _unread(text: str) -> Iterable[Problem]:
    """Lines of a chat that look like those of a runner's page, with bars, and are not; with the reason."""
    for number, raw in enumerate(text.splitlines(), start=1):
        parts = [part.strip() for part in raw.split("|")]
        if len(parts) == 1 or (len(parts) > 3 and parts[2] in get_args(Went)):
            continue
        if len(parts) < 4:
            must, found = "a line must have at least four parts between bars", f"not {len(parts)}"
        else:
            must, found = f"the third part must be one of {', '.join(get_args(Went))}", f'not "{parts[2]}"'
        yield Problem("pasted lines", number, must, found, f"Such as: {PASTED_FORM}")


def _sender(words: str, block: Block) -> BlockRunner | None:
    """Whose line it is: the name ends the part before the first bar; a chat may put its own words before."""
    plain = words.casefold()
    fitting = [one for one in block.runners if plain.endswith(one.settings.name.casefold())]
    return max(fitting, key=lambda one: len(one.settings.name), default=None)


def _from_page(runner: BlockRunner, session: str, went: str, parts: Sequence[str]) -> LogLine:
    """The rest of a line of the page: effort, the time of a race or a trial, the day, pain, a word."""
    rest = list(parts)
    effort = rest.pop(0).removeprefix("effort ") if rest[0].startswith("effort ") else ""
    time = distance = pain = where = ""
    if rest and (timed := re.fullmatch(r"time (\S+)(?: over (.*))?", rest[0])):
        time, distance = timed[1], timed[2] or ""
        rest.pop(0)
    day = rest.pop(0) if rest else ""
    if rest and (hurt := re.fullmatch(r"pain (\d+)(?: (.*))?", rest[0])):
        pain, where = hurt[1], hurt[2] or ""
        rest.pop(0)
    return LogLine(
        date=day,
        runner=runner.settings.name,
        session=session,
        went=went,
        distance=distance,
        time=time,
        effort=effort,
        pain=pain,
        where=where,
        note=" ".join(rest),
    )
