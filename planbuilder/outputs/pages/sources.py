"""The rules that a plan names, with their numbers and where these come from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from planbuilder.plan.types import Plan
from planbuilder.settings.limits import Limit, Limits, default_limits


@dataclass(frozen=True, slots=True)
class RuleView:
    """A rule in words, with its number and source mark."""

    name: str
    meaning: str
    number: str  # empty for a table
    mark: str
    source: str


def rules_of(plan: Plan, limits: Limits | None = None) -> tuple[RuleView, ...]:
    """Every limit that a note or a reason of the plan names, by name; a private note names none."""
    known = limits or default_limits()
    names = {note.rule for note in plan.notes if not note.private} | {
        reason.rule for session in plan.sessions for reason in session.reasons if reason.rule
    }
    return tuple(_view(known.limit(name)) for name in sorted(names) if name in known)


def sources_of(rules: Iterable[RuleView]) -> tuple[str, ...]:
    """The publications behind the rules."""
    return tuple(sorted({rule.source for rule in rules if rule.source}))


def _view(limit: Limit) -> RuleView:
    return RuleView(
        name=limit.name,
        meaning=limit.meaning,
        number=_number(limit),
        mark="your coach's number" if limit.overridden else limit.mark,
        source=limit.source,
    )


def _number(limit: Limit) -> str:
    value = limit.value
    if isinstance(value, dict):
        return ""
    if isinstance(value, list):
        return ", ".join(f"{part:g}" if isinstance(part, int | float) else str(part) for part in value)
    return f"{value:g} {limit.unit}".strip() if isinstance(value, int | float) else str(value)
