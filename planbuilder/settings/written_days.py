"""Days as people write them.

Receives: words such as ``2027-01-17``, ``17 Jan 2027``, ``25/01/2027``.
Gives: every day they can mean: 25/01/2027 is one, 10.01.2027 may be two.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import re
from typing import Final

WRITTEN_DAY: Final = (
    r"\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{4}"
    r"|\d{1,2}(?:st|nd|rd|th)?\s+[a-z]{3,9}\.?,?\s+\d{4}|[a-z]{3,9}\.?\s+\d{1,2}(?:st|nd|rd|th)?,?\s+\d{4}"
)
_WHOLE: Final = re.compile(WRITTEN_DAY, re.IGNORECASE)
_MONTHS: Final = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")


def days_meant(words: str) -> tuple[dt.date, ...]:
    """Every day that these words can mean; none where they are no day of the calendar.

    >>> days_meant("6 Dec 2026"), days_meant("30/02/2027")
    ((datetime.date(2026, 12, 6),), ())
    >>> [str(day) for day in days_meant("6/12/2026")]
    ['2026-12-06', '2026-06-12']
    """
    if not _WHOLE.fullmatch(words):
        return ()
    numbers = [int(number) for number in re.findall(r"\d+", words)]
    named = re.search(r"[a-z]{3,}", re.sub(r"\d(?:st|nd|rd|th)", "", words.lower()))
    if named is not None:
        month = named[0][:3]
        choices = [(numbers[1], _MONTHS.index(month) + 1, numbers[0])] if month in _MONTHS else []
    elif numbers[0] > 31:
        choices = [(numbers[0], numbers[1], numbers[2])]
    else:
        choices = [(numbers[2], numbers[1], numbers[0]), (numbers[2], numbers[0], numbers[1])]
    days = []
    for choice in choices:
        with contextlib.suppress(ValueError):
            days.append(dt.date(*choice))
    return tuple(dict.fromkeys(days))
