"""Words that speak of somebody's health, where a person writes a reason that others will read.

Receives: what a person wrote.
Gives: the words of it that speak of health, so that the writer can be told.
"""

from __future__ import annotations

import re
from typing import Final

_WORDS: Final = re.compile(
    r"\b(?:sore\w*|pain\w*|aches?|aching|hurt\w*|injur\w*|niggl\w*|ill|illness\w*|sick\w*|flu|influenza|fever\w*"
    r"|a cold|cough\w*|virus|covid|infection\w*|antibiotics?|doctor\w*|physio\w*|hospital\w*|surgery"
    r"|strain\w*|sprain\w*|limp\w*|swollen|swelling|cramps?|tend[io]n\w*|fractures?|stress fracture|migraine"
    r"|asthma\w*|pregnan\w*|depress\w*|anxiety|exhausted|insomnia|achilles|calf|calves|plantar|hamstrings?|knees?"
    r"|shins?|quads?|hips?|groin|ankles?)\b",
    re.IGNORECASE,
)


def health_words(text: str) -> tuple[str, ...]:
    """The words of a text that speak of health, each once.

    >>> health_words("Sore knee, and the knee brace"), health_words("family day, too cold and icy")
    (('sore', 'knee'), ())
    """
    return tuple(dict.fromkeys(found.lower() for found in _WORDS.findall(text)))
