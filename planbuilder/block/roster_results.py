"""The results of a runner in one cell of a roster, as people type them.

Receives: text such as ``10k 44:10 2027-01-17; half 1:38:20 4 Oct 2026 hilly``.
Gives: each result in the words of block.toml; ``NotAResult`` names the part that was not understood.

A date is taken where it can be only one day: 25/01/2027 is one, 10.01.2027 may be two.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Iterator
from typing import Final

from planbuilder.settings.written_days import WRITTEN_DAY, days_meant

_BETWEEN: Final = re.compile(r"[;\n]+|,\s+|(?<=[-/.]\d{2}),|(?<=[ ]\d{4}),|(?<=[a-z]),")
_DATE: Final = re.compile(rf"(?<!\S)\(?(?P<date>{WRITTEN_DAY})\)?(?!\S)", re.IGNORECASE)
_TIME: Final = re.compile(r"\d{1,3}:\d{2}(?::\d{2})?")
_OTHER_TIME: Final = re.compile(
    r"(?:(\d+)\s*[h.])?\s*(\d{1,3})\s*(?:m|min|\.)\s*(\d{2})\s*(?:s|sec)?", re.IGNORECASE
)


class NotAResult(ValueError):
    """Words that are no result; with what to do about the part that is not understood."""

    must = "distance, time and date, such as 10k 47:30 2027-01-17"

    def __init__(self, word: str, todo: str = "") -> None:
        self.word, self.todo = word, todo
        super().__init__(f'{self.must}, not "{word}"')


def read_results(cell: str) -> list[dict[str, str]]:
    """Every result of a cell; raises NotAResult for the first that is none.

    >>> read_results("10k: 44:10, 25/01/2027")
    [{'distance': '10k', 'time': '44:10', 'date': '2027-01-25'}]
    """
    parts = (part.strip() for part in _BETWEEN.split(cell))
    return [_result(part) for part in _with_dates(part for part in parts if part)]


def _with_dates(parts: Iterable[str]) -> Iterator[str]:
    """The parts, a date that stands between commas put back behind its time."""
    before = ""
    for part in parts:
        alone = _DATE.match(part)
        if before and alone and not _DATE.search(before):
            before = f"{before} {part}"
            continue
        if before:
            yield before
        before = part
    if before:
        yield before


def _result(part: str) -> dict[str, str]:
    found = _DATE.search(part)
    if found is None:
        raise NotAResult(part)
    distance, _, time = part[: found.start()].rstrip(" ,:").rpartition(" ")
    if not _TIME.fullmatch(time):
        raise NotAResult(part, _time_todo(part[: found.start()].strip()))
    result = {
        "distance": distance.rstrip(" :,").replace(",", "."),
        "time": time,
        "date": _day(found["date"], part).isoformat(),
    }
    if rest := part[found.end() :].strip(" ,").lower():
        result["course"] = rest
    return result


def _time_todo(words: str) -> str:
    found = re.search(rf"(?<!\S){_OTHER_TIME.pattern}$", words, re.IGNORECASE)
    if found is None:
        return ""
    hours, minutes, seconds = found.groups()
    right = f"{hours}:{minutes:>02}:{seconds}" if hours else f"{minutes}:{seconds}"
    return f'The time "{found[0]}": write {right}.'


def _day(words: str, part: str) -> dt.date:
    """The one day that these words can mean."""
    days = days_meant(words)
    if len(days) != 1:
        write = " or ".join(f"{day}" for day in days) or "a day of the calendar, such as 2027-01-17"
        raise NotAResult(part, f'The date "{words}": write {write}.')
    return days[0]
