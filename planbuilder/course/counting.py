"""Line numbers as people say them in notes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

_SHOWN_LINES: Final = 3


def lines_text(lines: Iterable[int]) -> str:
    """Line numbers as people name them.

    >>> lines_text([7]), lines_text([12, 7, 9, 40, 41])
    ('line 7', 'lines 7, 9, 12 and 2 more')
    """
    numbers = sorted(set(lines))
    if len(numbers) == 1:
        return f"line {numbers[0]}"
    shown = ", ".join(str(number) for number in numbers[:_SHOWN_LINES])
    more = len(numbers) - _SHOWN_LINES
    return f"lines {shown}" + (f" and {more} more" if more > 0 else "")
