"""The session library: every kind of session the plan may hold, as data.

Receives: ``sessions.toml`` of the package, and the file of the same name in a block folder.
Gives: a ``Library`` of ``Template``; ``InputProblems`` with file and line for a coach's mistakes.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, Final

from planbuilder.settings.problems import InputProblems, Problem, did_you_mean
from planbuilder.settings.session_models import SessionTemplate as Template
from planbuilder.settings.session_models import sessions_file
from planbuilder.settings.toml_lines import Lines, line_of, parse_model, read_toml

__all__ = ["Library", "Template", "load_library"]

_NAME: Final = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")


class Library:
    """All kinds of session by name, in the order of the file."""

    def __init__(self, templates: Mapping[str, Template]) -> None:
        self._templates = dict(templates)

    def __iter__(self) -> Iterator[Template]:
        return iter(self._templates.values())

    def __contains__(self, name: str) -> bool:
        return name in self._templates

    def __len__(self) -> int:
        return len(self._templates)

    @property
    def names(self) -> tuple[str, ...]:
        """The names of all kinds."""
        return tuple(self._templates)

    def with_kinds(self, more: Mapping[str, Template]) -> Library:
        """The same library with more kinds."""
        return Library({**self._templates, **more}) if more else self

    def template(self, name: str) -> Template:
        """The kind of that name; KeyError where there is none."""
        return self._templates[name]


@cache
def _shipped_tables() -> dict[str, dict[str, Any]]:
    text = resources.files("planbuilder.rules").joinpath("sessions.toml").read_text("utf-8")
    return {name: {**table, "name": name} for name, table in tomllib.loads(text).items()}


@cache
def _shipped() -> dict[str, Template]:
    return {name: Template.model_validate(table) for name, table in _shipped_tables().items()}


def load_library(extra: Path | None = None, *, shown_as: str = "sessions.toml") -> Library:
    """The shipped library, with the kinds of a coach's file added or changed.

    In the coach's file a table with a known name changes only the lines it holds; any other table is a new
    kind. Raises InputProblems with every mistake in the file.
    """
    if extra is None:
        return Library(_shipped())
    tables, lines = read_toml(extra, shown_as=shown_as)
    return Library({**_shipped(), **_read_tables(tables, lines, shown_as)})


def _merged(shipped: Mapping[str, Any], changed: Mapping[str, Any]) -> dict[str, Any]:
    """The shipped table with a coach's lines in their place, inner tables line by line."""
    merged = dict(shipped)
    for key, value in changed.items():
        inner = merged.get(key)
        if isinstance(inner, dict) and isinstance(value, dict):
            merged[key] = _merged(inner, value)
        else:
            merged[key] = value
    return merged


def _read_tables(tables: Mapping[str, Any], lines: Lines, shown_as: str) -> dict[str, Template]:
    problems = [
        Problem(shown_as, line_of((name,), lines), f"{name} must be a table of its own", f"not {value!r}")
        for name, value in tables.items()
        if not isinstance(value, dict)
    ]
    problems += [
        Problem(shown_as, line_of((name, "name"), lines), f"{name} must take its name from its table", "")
        for name, value in tables.items()
        if isinstance(value, dict) and "name" in value
    ]
    problems += [
        Problem(
            shown_as,
            line_of((name,), lines),
            "the name of a session must be lower-case words joined by _, such as canal_repeats",
            f'not "{name}"',
        )
        for name in tables
        if not _NAME.fullmatch(name)
    ]
    written = {
        name: table for name, table in tables.items() if isinstance(table, dict) and _NAME.fullmatch(name)
    }
    full = {
        name: {**_merged(_shipped_tables().get(name, {}), table), "name": name}
        for name, table in written.items()
    }
    found, mistakes = parse_model(sessions_file(full), full, lines, shown_as=shown_as)
    problems += mistakes
    names = [*_shipped_tables(), *written]
    for name, table in full.items():
        instead = table.get("instead", "")
        if isinstance(instead, str) and instead and instead not in names:
            problems.append(
                Problem(
                    shown_as,
                    line_of((name, "instead"), lines),
                    f"{name}.instead must be the name of a session",
                    f'not "{instead}"',
                    did_you_mean(instead, names),
                )
            )
    if problems or found is None:
        raise InputProblems(sorted(problems, key=lambda problem: problem.line or 0))
    return {name: getattr(found, name) for name in full}
