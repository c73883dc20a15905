"""A chat into which runners pasted the lines of their page.

Receives: the whole text of the chat.
Gives: lines of the log with the number they stand on; what looked like one and is none; how many were plain
words.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple, get_args

from planbuilder.block.log_table import LogLine
from planbuilder.block.types import Block, BlockRunner
from planbuilder.schedule.replan import Went
from planbuilder.settings.models import read_date
from planbuilder.settings.problems import Problem, did_you_mean

PASTED_FORM: Final = "Ines A | w07-long | done | effort 4 | 2027-04-11"


_EFFORT: Final = re.compile(r"effort (\d+(?:\.\d+)?)(?:/10)?")
_TIME: Final = re.compile(r"time (\d\S*)(?: over (.*))?")
_PAIN: Final = re.compile(r"pain (\d+)(?:/10)?(?: (.*))?")
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")


class Pasted(NamedTuple):
    """What a chat held: lines with the number they stand on, and what looked like one and is none."""

    lines: tuple[tuple[int, LogLine], ...]
    problems: tuple[Problem, ...]
    plain: int  # lines of words without bars, which nothing was taken from


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
    plain = sum(bool(line.strip()) and "|" not in line for line in text.splitlines())
    return Pasted(tuple(found), tuple(sorted(problems, key=lambda one: one.line or 0)), plain)


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
    """Whose line it is: the name ends the part before the first bar; a chat may put its own words before.

    A first name is enough where one runner alone has it.
    """
    plain = words.casefold()
    fitting = [one for one in block.runners if plain.endswith(one.settings.name.casefold())]
    if fitting:
        return max(fitting, key=lambda one: len(one.settings.name))
    return block.runner_named(words) or block.runner_named(words.rpartition(":")[2])


def _from_page(runner: BlockRunner, session: str, went: str, parts: Sequence[str]) -> LogLine:
    """The rest of a line of the page: effort, the time of a race or a trial, the day, pain, a word.

    The page writes them in that order; a person who types them may take any.
    """
    rest = list(parts)
    effort, timed, hurt, day = (_taken(pattern, rest) for pattern in (_EFFORT, _TIME, _PAIN, _DAY))
    if effort is None and rest and rest[0].startswith("effort "):
        told_effort = rest.pop(0).removeprefix("effort ")
    else:
        told_effort = effort[1] if effort else ""
    told_day = day[0] if day else rest.pop(0) if rest else ""
    return LogLine(
        date=_as_in_the_log(told_day),
        runner=runner.settings.name,
        session=session,
        went=went,
        distance=(timed[2] or "") if timed else "",
        time=timed[1] if timed else "",
        effort=told_effort,
        pain=hurt[1] if hurt else "",
        where=(hurt[2] or "") if hurt else "",
        note=" ".join(rest),
    )


def _taken(pattern: re.Pattern[str], parts: list[str]) -> re.Match[str] | None:
    """The first part of that form, taken out of the parts."""
    for at, part in enumerate(parts):
        if found := pattern.fullmatch(part):
            del parts[at]
            return found
    return None


def _as_in_the_log(day: str) -> str:
    """A day as the log writes it; what is none stays as it was typed."""
    with contextlib.suppress(ValueError):
        return read_date(day).isoformat()
    return day
