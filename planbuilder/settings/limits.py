"""Every number that a rule uses, with its unit, source mark and meaning.

Receives: ``limits.toml`` of the package and the coach's overrides from ``[limits]`` of the block file.
Gives: a ``Limits`` that rooms ask by name, and the list of overrides as notes.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any, Literal

from planbuilder.settings.notes import Note

SourceMark = Literal["published", "common practice", "our choice within it", "from memory"]
Value = float | str | list[float] | dict[str, Any]


@dataclass(frozen=True, slots=True)
class Limit:
    """One number (or short table of numbers) of the house."""

    name: str  # "load.single_run_cap": section and key of limits.toml, and the override name
    value: Any
    unit: str
    mark: SourceMark
    source: str  # which publication, or empty
    meaning: str  # one sentence
    default: Any  # the value before an override

    @property
    def overridden(self) -> bool:
        """Whether a coach changed it."""
        return bool(self.value != self.default)


class Limits:
    """All limits by name.

    >>> limits = default_limits()
    >>> limits.number("load.single_run_cap")
    1.1
    """

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        self._limits = dict(limits)

    def __iter__(self) -> Iterator[Limit]:
        return iter(self._limits.values())

    def __contains__(self, name: str) -> bool:
        return name in self._limits

    def limit(self, name: str) -> Limit:
        """The whole entry; KeyError for a name that is not in limits.toml."""
        return self._limits[name]

    def number(self, name: str) -> float:
        """The value of a single number."""
        return float(self._limits[name].value)

    def numbers(self, name: str) -> tuple[float, ...]:
        """The values of a list of numbers."""
        return tuple(float(value) for value in self._limits[name].value)

    def table(self, name: str) -> dict[str, Any]:
        """The value of a small table."""
        return dict(self._limits[name].value)

    def with_overrides(self, overrides: Mapping[str, Any]) -> Limits:
        """The same limits with a coach's numbers in their place; names and shapes are checked before."""
        changed = {name: replace(self._limits[name], value=value) for name, value in overrides.items()}
        return Limits({**self._limits, **changed})

    def override_notes(self) -> tuple[Note, ...]:
        """One note for each number that a coach changed."""
        return tuple(
            Note(
                rule=limit.name,
                text=f"Your coach set {limit.name} to {limit.value} ({limit.unit}); ours is {limit.default}.",
                kind="override",
            )
            for limit in self
            if limit.overridden
        )


@cache
def default_limits() -> Limits:
    """The limits as shipped."""
    text = resources.files("planbuilder.settings").joinpath("limits.toml").read_text("utf-8")
    found: dict[str, Limit] = {}
    for section, entries in tomllib.loads(text).items():
        for key, entry in entries.items():
            name = f"{section}.{key}"
            found[name] = Limit(
                name=name,
                value=entry["value"],
                unit=entry["unit"],
                mark=entry["mark"],
                source=entry.get("source", ""),
                meaning=entry["meaning"],
                default=entry["value"],
            )
    return Limits(found)
