"""Club nights that a plan was laid out with, and what the coach has typed since.

Receives: a ``Block``, what a runner's accepted plan was made from.
Gives: the lines of the nights this runner comes to; those of days to come that a re-plan has yet to answer.
"""

from __future__ import annotations

import datetime as dt
import shlex
from collections import Counter
from collections.abc import Mapping
from typing import Final

from planbuilder.block.accepted import Basis, Nights
from planbuilder.block.history import History
from planbuilder.block.types import Block, BlockRunner
from planbuilder.rules.typed_night import TypedNight, read_night
from planbuilder.schedule.replan import NightTold
from planbuilder.settings.models import WEEKDAYS
from planbuilder.units import say_date

OFF: Final = "off"
_UNTOLD: Final = ("", False)


def nights_of(block: Block, runner: BlockRunner) -> Nights:
    """The line of every night this runner comes to, as the block has it: typed, off, or proposed."""
    settings, training = runner.settings, block.settings.training
    held = {night.day for night in training.club_nights}
    comes = held.intersection(settings.days if settings.club_nights is None else settings.club_nights)
    lines = {date: (night.text, not night.proposed) for date, night in block.nights.items()}
    lines |= dict.fromkeys(training.nights_off, (OFF, True))
    first, race = block.begins(settings), block.settings.race.date
    return tuple(
        (date.isoformat(), *lines[date])
        for date in sorted(lines)
        if first <= date < race and WEEKDAYS[date.weekday()] in comes
    )


def nights_told(block: Block, runner: BlockRunner, basis: Basis, today: dt.date) -> tuple[NightTold, ...]:
    """Nights from a day on of which the coach says something else than the accepted plan was made with.

    A proposal that was accepted stays until a line is typed for its date, and is no news when it is typed.
    """
    was, now = _lines(basis.nights or ()), _lines(nights_of(block, runner))
    off = set(block.settings.training.nights_off)
    found = []
    for date in sorted({*was, *now}):
        (old, by_coach), (line, typed) = was.get(date, _UNTOLD), now.get(date, _UNTOLD)
        if date >= today and (typed or by_coach) and not _alike(old, line):
            night = None if date in off else block.nights.get(date)
            found.append(NightTold(date, night, off=date in off))
    return tuple(found)


def nights_then(block: Block, runner: BlockRunner, basis: Basis, today: dt.date) -> Nights | None:
    """The lines that a plan is made with which answers all that was typed; None where none are known."""
    told = {one.date for one in nights_told(block, runner, basis, today)}
    if basis.nights is None and not told:
        return None
    now = _lines(nights_of(block, runner))
    lines = {date: said for date, said in _lines(basis.nights or ()).items() if date not in told}
    lines |= {date: now[date] for date in told if date in now}
    return tuple((date.isoformat(), *lines[date]) for date in sorted(lines))


def nights_as_accepted(block: Block, history: History) -> dict[dt.date, TypedNight]:
    """What the plans that hold now do on each night: of an accepted plan what it was made with.

    Where plans differ it is what most of those who come do.
    """
    said: dict[dt.date, Counter[tuple[str, bool]]] = {}
    for runner in block.runners:
        basis = history.basis(runner.key)
        known = basis.nights if basis is not None and basis.nights is not None else nights_of(block, runner)
        for date, one in _lines(known).items():
            said.setdefault(date, Counter())[one] += 1
    found = dict(block.nights)
    for date, votes in said.items():
        line, typed = max(votes, key=lambda one: (votes[one], one))
        now = found.pop(date, None)
        night = None if line == OFF else _read(block, date, line, typed, now)
        if night is not None:
            found[date] = night
    return found


def waiting_nights(block: Block, history: History, today: dt.date) -> dict[dt.date, int]:
    """Nights from a day on whose line no accepted plan of those who come has taken in: by date, how many."""
    found: Counter[dt.date] = Counter()
    for runner in block.runners:
        basis = history.basis(runner.key)
        if basis is not None:
            found.update(one.date for one in nights_told(block, runner, basis, today))
    return dict(sorted(found.items()))


def _read(block: Block, date: dt.date, line: str, typed: bool, now: TypedNight | None) -> TypedNight | None:
    """The night of a line; None where the library does not know it any more."""
    if now is not None and _alike(now.text, line):
        return now
    try:
        night = read_night(line, name=f"night_{date:%Y_%m_%d}", library=block.library, limits=block.limits)
    except ValueError:
        return None
    return night if typed else night.as_proposed()


def _lines(nights: Nights) -> Mapping[dt.date, tuple[str, bool]]:
    return {dt.date.fromisoformat(date): (line, typed) for date, line, typed in nights}


def _alike(one: str, two: str) -> bool:
    return one.casefold().split() == two.casefold().split()


def waiting_words(block: Block, history: History, today: dt.date) -> str:
    """That the plans do not hold what was typed for some nights from a day on; nothing where they do."""
    waiting = waiting_nights(block, history, today)
    if not waiting:
        return ""
    days = ", ".join(map(say_date, waiting))
    nights = "the night" if len(waiting) == 1 else "the nights"
    return (
        f"What was typed for {nights} of {days} is not in the accepted plans yet: they hold what stood there "
        f"before. See: planbuilder replan {shlex.quote(str(block.folder))}"
    )
