"""The board and the coach's page of plans that are at hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from planbuilder.outputs.pages import board_frame, board_of, coach_entry, coach_frame, coach_of
from planbuilder.outputs.squad import squad_row
from planbuilder.plan.types import Plan
from planbuilder.settings.limits import default_limits


def board_page(plans: Sequence[Plan], *, linked: bool = True, news: str = "") -> str:
    """The page ``index.html``."""
    first = plans[0]
    frame = board_frame(first.race, first.course, first.features)
    rows = [squad_row(plan) for plan in plans]
    return board_of(frame, rows, limits=default_limits(), linked=linked, news=news).decode()


def coach_page(plans: Sequence[Plan], *, breaches: Mapping[str, Sequence[str]] | None = None) -> str:
    """The page ``coach.html``; ``breaches`` holds sentences by runner key."""
    first, broken = plans[0], breaches or {}
    entries = [coach_entry(plan, broken.get(plan.runner.key, ()), "") for plan in plans]
    return coach_of(coach_frame(first.race, first.course, first.features), entries)
