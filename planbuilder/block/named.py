"""Sessions as people name them, by their ids.

Receives: the id a person typed, and the ids there are.
Gives: the ``Problem`` of an id that is none.
"""

from __future__ import annotations

from collections.abc import Iterable

from planbuilder.settings.problems import Problem, did_you_mean


def no_session(
    session: str, known: Iterable[str], *, where: str, line: int | None = None, nights: bool = False
) -> Problem:
    """That no session has this id; nights: whether the date of a club night would have done as well."""
    must = "the session must be an id of the runner's plan, such as w03-long"
    if nights:
        must += ", or the date of a club night"
    return Problem(where, line, must, f'not "{session}"', did_you_mean(session, sorted(known)))
