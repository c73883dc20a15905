"""How a coach says what is different about local ground."""

from __future__ import annotations

import numpy as np
import pytest

from planbuilder.plan.local import Profile
from planbuilder.rehearse.difference import difference_words
from planbuilder.rehearse.wanted import profile
from planbuilder.settings.limits import Limits
from planbuilder.units import say_in


def _ground(*heights_m: float) -> Profile:
    """1,200 m of ground with heights at even places."""
    height = np.interp(np.linspace(0, len(heights_m) - 1, 61), np.arange(len(heights_m)), heights_m)
    return profile(height, 1200.0, reversal_m=3.0)


@pytest.mark.parametrize(
    ("local", "wanted", "words"),
    [
        ((0, 16, 32, 48), (0, 16, 32, 48), "much the same ground all the way"),
        ((0, 8, 24, 40), (0, 16, 32, 48), "8 m less climb, a gentler foot"),
        ((0, 12, 28, 52), (0, 16, 32, 48), "4 m more climb, a gentler foot, a steeper top"),
        ((0, 24, 48, 72), (0, 16, 32, 48), "24 m more climb, steeper all the way"),
        ((0, -16, -32, -40), (0, -16, -32, -48), "8 m less descent, a gentler foot"),
        (
            (0, 16, 8, 24),
            (0, 16, 32, 48),
            "16 m less climb, 8 m more descent, the middle falls where the race climbs",
        ),
        (
            (0, 6, 0),
            (0, 0, 0),
            "6 m more climb, 6 m more descent, a steeper first third, a steeper last third",
        ),
    ],
)
def test_the_difference_is_told_in_words(
    local: tuple[float, ...], wanted: tuple[float, ...], words: str, limits: Limits
) -> None:
    assert say_in(difference_words(_ground(*local), _ground(*wanted), limits), "km") == words


def test_the_same_difference_reads_in_feet(limits: Limits) -> None:
    words = difference_words(_ground(0, 8, 24, 40), _ground(0, 16, 32, 48), limits)
    assert say_in(words, "mi") == "26 ft less climb, a gentler foot"
