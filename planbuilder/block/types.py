"""What the block room hands on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from planbuilder.rules.library import Library
from planbuilder.rules.typed_night import TypedNight
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import BlockSettings, RunnerSettings
from planbuilder.settings.problems import InputProblems, Problem, did_you_mean


@dataclass(frozen=True, slots=True)
class BlockRunner:
    """A runner with the key that names the folder, the feed and the identities of the sessions."""

    key: str
    settings: RunnerSettings


@dataclass(frozen=True)
class Block:
    """The folder a coach keeps for one race, read and checked."""

    folder: Path
    key: str
    settings: BlockSettings
    runners: tuple[BlockRunner, ...]
    first_day: dt.date  # given, or by default
    limits: Limits  # with the coach's overrides
    library: Library  # with the coach's sessions
    skipped: tuple[Problem, ...] = ()  # what is wrong with the rows of the roster that were left out
    rows_left_out: int = 0
    nights: Mapping[dt.date, TypedNight] = field(default_factory=dict)  # what the coach typed, by date

    def runners_named(self, name: str | None) -> tuple[BlockRunner, ...]:
        """All runners, or the one with this name or key; InputProblems where nobody has it."""
        if name is None:
            return self.runners
        found = tuple(runner for runner in self.runners if name in (runner.key, runner.settings.name))
        if not found:
            names = [runner.settings.name for runner in self.runners]
            raise InputProblems(
                [
                    Problem(
                        str(self.folder),
                        None,
                        f"the runner must be one of {', '.join(names)}",
                        f'not "{name}"',
                        did_you_mean(name, names),
                    )
                ]
            )
        return found
