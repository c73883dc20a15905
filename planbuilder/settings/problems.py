"""What can go wrong at a door, as a tree of errors.

    PlanbuilderError
    ├── InputProblems   the input is wrong: every problem found in one run   (exit code 2)
    └── CannotWrite     a file could not be written; nothing was lost        (exit code 3)

A breach of a rule and a refused runner are results, not errors.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Final


@dataclass(frozen=True, slots=True)
class Problem:
    """One mistake in one input: where, what must be, what was found, what to do."""

    file: str  # as the person typed it, or relative to the block folder
    line: int | None
    must: str  # "race.date must be a date such as 2027-05-16"
    found: str = ""  # "not 'May 16'"
    todo: str = ""  # "Did you mean 2027-05-16?"

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}:{self.line}"
        sentence = ", ".join(part for part in (self.must, self.found) if part)
        return f"{where}: {sentence}." + (f" {self.todo}" if self.todo else "")


class PlanbuilderError(Exception):
    """Anything that a person can mend; its text is all they need to read."""


class InputProblems(PlanbuilderError):
    """Every problem found in the input, one line each."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputProblems], tuple[tuple[Problem, ...]]]:
        """So that a worker process can hand it on."""
        return InputProblems, (self.problems,)


class CannotWrite(PlanbuilderError):
    """A file could not be written."""


PASSED_OVER: Final = "planbuilder.passed_over"  # the logger whose listener tells of what is left out


def pass_over(problem: Problem, then: str) -> None:
    """Leave an input out while everything else goes on, and tell what it is and ``then`` what that does."""
    import logging

    logging.getLogger(PASSED_OVER).warning("%s", replace(problem, todo=f"{problem.todo} {then}".strip()))


def did_you_mean(word: str, choices: Iterable[str]) -> str:
    """A question with the nearest choice, or an empty string.

    >>> did_you_mean("timezome", ["timezone", "name"])
    'Did you mean "timezone"?'
    """
    near = get_close_matches(word, list(choices), n=1, cutoff=0.6)
    return f'Did you mean "{near[0]}"?' if near else ""
