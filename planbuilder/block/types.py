"""What the block room hands on."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from planbuilder.rules.library import Library
from planbuilder.rules.typed_night import TypedNight
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import BlockSettings, RunnerSettings
from planbuilder.settings.names import without_accents
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
    off: Mapping[dt.date, str] = field(default_factory=dict)  # nights that are off, and where it is written

    def begins(self, runner: RunnerSettings) -> dt.date:
        """The first day of this runner's plan."""
        return runner.first_day or self.first_day

    def runners_named(self, name: str | None) -> tuple[BlockRunner, ...]:
        """All runners, or the one that ``runner_named`` finds; InputProblems where it finds nobody."""
        if name is None:
            return self.runners
        found = self.runner_named(name)
        if found is None:
            raise InputProblems([self.no_runner(name, self.settings.race.name, None)])
        return (found,)

    def runner_named(self, name: str) -> BlockRunner | None:
        """The runner with this name or key, or with this first name if only one has it.

        Accents may be left out where that leaves one runner: "Zoe" is Zoë.
        """
        for plain in (str.casefold, without_accents):
            said = plain(name.strip())
            whole = [one for one in self.runners if said in (one.key, plain(one.settings.name))]
            found = whole or self._first_named(said, plain)
            if len(found) == 1:
                return found[0]
        return None

    def no_runner(self, name: str, where: str, line: int | None) -> Problem:
        """That nobody here, or more than one, goes by this name."""
        said = without_accents(name.strip())
        several = [runner.settings.name for runner in self._first_named(said, without_accents)]
        names = [runner.settings.name for runner in self.runners]
        if several:
            return Problem(where, line, f'"{name}" must be one runner', f"not {' or '.join(several)}")
        must = f"the runner must be one of {', '.join(names)}"
        return Problem(where, line, must, f'not "{name}"', did_you_mean(name, names))

    def _first_named(self, said: str, plain: Callable[[str], str]) -> list[BlockRunner]:
        firsts = ((runner, plain(runner.settings.name).split()) for runner in self.runners)
        return [runner for runner, words in firsts if words and words[0] == said]
