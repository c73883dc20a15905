"""The rules: what a plan must never do, what it should do, and the library of sessions it is made from.

Receives: weeks of a plan and a ``RuleContext``.
Gives: ``check`` (broken limits), ``exceptions`` (limits whose exception was used), ``wishes`` (wishes given
up), ``why`` (the chain behind a session) and ``RULES``, the list of all of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from planbuilder.plan.types import Plan, Reason, Week
from planbuilder.rules import (
    checks_days,
    checks_growth,
    checks_load,
    checks_rhythm,
    checks_sessions,
    checks_taper,
    checks_trips,
    wishes_variety,
)
from planbuilder.rules import wishes as wish_rules
from planbuilder.rules.context import Baseline, Breach, RuleContext, up_to_race
from planbuilder.rules.library import Library, load_library
from planbuilder.rules.registry import RULES, RuleInfo
from planbuilder.settings.limits import Limits

__all__ = [
    "RULES",
    "Baseline",
    "Breach",
    "Library",
    "RuleContext",
    "RuleInfo",
    "check",
    "exceptions",
    "load_library",
    "week_findings",
    "why",
    "wishes",
]

CHECKS = (
    checks_load,
    checks_growth,
    checks_rhythm,
    checks_taper,
    checks_days,
    checks_trips,
    checks_sessions,
    wish_rules,
    wishes_variety,
)  # imported for the rules they enter, in this order


def week_findings(weeks: Sequence[Week], index: int, context: RuleContext) -> Iterator[Breach]:
    """What the week-by-week limits find in one week; exceptions are marked."""
    for rule in RULES:
        if rule.strength == "limit" and rule.week is not None:
            yield from rule.week(weeks, index, context)


def _findings(weeks: Sequence[Week], context: RuleContext) -> Iterator[Breach]:
    weeks = up_to_race(weeks)
    for index in range(len(weeks)):
        yield from week_findings(weeks, index, context)
    for rule in RULES:
        if rule.strength == "limit" and rule.block is not None:
            yield from rule.block(weeks, context)


def check(weeks: Sequence[Week], context: RuleContext) -> tuple[Breach, ...]:
    """Every broken limit, in the order of the rules within each week."""
    return tuple(found for found in _findings(weeks, context) if not found.excepted)


def exceptions(weeks: Sequence[Week], context: RuleContext) -> tuple[Breach, ...]:
    """Every place where a limit's own exception was used."""
    return tuple(found for found in _findings(weeks, context) if found.excepted)


def wishes(weeks: Sequence[Week], context: RuleContext) -> tuple[Breach, ...]:
    """Every wish the plan gave up, with both numbers."""
    return tuple(
        found
        for rule in RULES
        if rule.strength == "wish" and rule.block is not None
        for found in rule.block(up_to_race(weeks), context)
    )


def why(plan: Plan, session_id: str, limits: Limits) -> tuple[Reason, ...]:
    """The chain behind a session: demand, phase, rules, numbers with source mark, what was considered.

    Raises KeyError where the plan has no such session.
    """
    session = next((found for found in plan.sessions if found.id == session_id), None)
    if session is None:
        raise KeyError(session_id)
    return tuple(_with_source(reason, limits) for reason in session.reasons)


def _with_source(reason: Reason, limits: Limits) -> Reason:
    if reason.rule not in limits:
        return reason
    entry = limits.limit(reason.rule)
    source = f"{entry.mark}: {entry.source}" if entry.source else entry.mark
    return Reason(reason.kind, f"{reason.text} ({source})", reason.rule)
