"""The list of all rules: each is one small function whose first docstring line is what a runner reads.

Receives: functions, through the decorators ``limit`` and ``wish``.
Gives: ``RULES``, the same functions for the scheduler, for ``planbuilder check`` and for the tests.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from planbuilder.plan.types import Week
from planbuilder.rules.context import Breach, RuleContext

WeekRule = Callable[[Sequence[Week], int, RuleContext], Iterator[Breach]]
BlockRule = Callable[[Sequence[Week], RuleContext], Iterator[Breach]]


@dataclass(frozen=True, slots=True)
class RuleInfo:
    """One rule of the house."""

    name: str
    sentence: str
    limits: tuple[str, ...]  # names of the numbers it uses
    strength: Literal["limit", "wish"]
    week: WeekRule | None  # looks at one week and what came before it
    block: BlockRule | None  # looks at all weeks together


RULES: Final[list[RuleInfo]] = []


def _sentence(rule: Callable[..., object]) -> str:
    return (rule.__doc__ or "").strip().splitlines()[0]


def limit(name: str, *limits: str) -> Callable[[WeekRule], WeekRule]:
    """Enter a limit that can be judged week by week."""

    def enter(rule: WeekRule) -> WeekRule:
        RULES.append(RuleInfo(name, _sentence(rule), limits, "limit", rule, None))
        return rule

    return enter


def block_limit(name: str, *limits: str) -> Callable[[BlockRule], BlockRule]:
    """Enter a limit that needs the whole block."""

    def enter(rule: BlockRule) -> BlockRule:
        RULES.append(RuleInfo(name, _sentence(rule), limits, "limit", None, rule))
        return rule

    return enter


def wish(name: str, *limits: str) -> Callable[[BlockRule], BlockRule]:
    """Enter a wish: met where the limits allow, else given up with a note."""

    def enter(rule: BlockRule) -> BlockRule:
        RULES.append(RuleInfo(name, _sentence(rule), limits, "wish", None, rule))
        return rule

    return enter
