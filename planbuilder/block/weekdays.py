"""Weekdays as people write them, in a roster, in an answer or on the command line.

Receives: text such as ``tue thu, sat & sun``.
Gives: the weekdays by their full names, in the order of the week.
"""

from __future__ import annotations

import re

from planbuilder.settings.models import WEEKDAYS
from planbuilder.settings.problems import did_you_mean


class NotAWeekday(ValueError):
    """Words that are not the weekdays asked for; its text is the end of a sentence "… must be"."""

    def __init__(self, word: str, must: str = "weekdays such as tue thu sat sun") -> None:
        self.must, self.word = must, word
        self.todo = did_you_mean(word, WEEKDAYS)
        super().__init__(f'{self.must}, not "{word}". {self.todo}'.rstrip(" ."))


def read_weekdays(text: str) -> list[str]:
    """Weekdays in the order of the week; raises NotAWeekday for the first word that is none.

    >>> read_weekdays("Sun, tues & thu")
    ['tuesday', 'thursday', 'sunday']
    """
    words = [word for word in re.split(r"[\s,;/+&.]+", text.lower()) if word and word != "and"]
    if not words:
        raise NotAWeekday(text.strip())
    found = {_weekday(word) for word in words}
    return [day for day in WEEKDAYS if day in found]


def read_weekday(text: str) -> str:
    """One weekday; raises NotAWeekday for none or several."""
    days = read_weekdays(text)
    if len(days) != 1:
        raise NotAWeekday(text.strip(), "one weekday such as sunday")
    return days[0]


def _weekday(word: str) -> str:
    for stem in (word, word.removesuffix("s")):  # tuesdays, weds
        for day in WEEKDAYS:
            if len(stem) >= 2 and day.startswith(stem):
                return day
    raise NotAWeekday(word)
