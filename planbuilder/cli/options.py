"""Quantities typed with their unit, and the options that commands share."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

Command = TypeVar("Command", bound=Callable[..., Any])


class Typed(click.ParamType[Any]):
    """A quantity typed with its unit; checked at the door."""

    def __init__(self, name: str, parse: Callable[[str], Any], *, keep_text: bool = False) -> None:
        self.name, self._parse, self._keep_text = name, parse, keep_text

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        try:
            parsed = self._parse(value)
        except ValueError as error:
            self.fail(f"must be {error}", param, ctx)
        return value.strip() if self._keep_text else parsed


class Whole(click.IntRange):
    """A whole number between two others, with a sentence for anything else."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f"must be a whole number from {self.min} to {self.max}, not {str(value)!r}", param, ctx)


class Number(click.FloatRange):
    """A number between two others, with a sentence for anything else."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            self.fail(f"must be a number from {self.min:g} to {self.max:g}, not {str(value)!r}", param, ctx)


def parse_date(text: str) -> dt.date:
    from planbuilder.settings.models import read_date

    return read_date(text)


def _parse_clock(text: str) -> dt.time:
    from planbuilder.settings.models import read_clock

    return read_clock(text)


def _parse_zone(text: str) -> str:
    from planbuilder.settings.models import read_zone

    return read_zone(text)


def _parse_weekdays(text: str) -> list[str]:
    from planbuilder.block.weekdays import read_weekdays

    return read_weekdays(text)


def _parse_weekday(text: str) -> str:
    from planbuilder.block.weekdays import read_weekday

    return read_weekday(text)


def _lazy(name: str) -> Callable[[str], float]:
    def parse(text: str) -> float:
        from planbuilder import units

        return float(getattr(units, name)(text))

    return parse


DATE = Typed("YYYY-MM-DD", parse_date)
DISTANCE = Typed("DISTANCE", _lazy("parse_distance"))
DISTANCE_TEXT = Typed("DISTANCE", _lazy("parse_distance"), keep_text=True)
TIME = Typed("H:MM:SS", _lazy("parse_time"))
TIME_TEXT = Typed("H:MM:SS", _lazy("parse_time"), keep_text=True)
CLOCK_TEXT = Typed("HH:MM", _parse_clock, keep_text=True)
ZONE = Typed("ZONE", _parse_zone, keep_text=True)
WEEKDAYS_TEXT = Typed("DAYS", _parse_weekdays, keep_text=True)
WEEKDAY = Typed("DAY", _parse_weekday)
AGE = Whole(5, 100)
FOLDER = click.Path(path_type=Path)


def today_option(command: Command) -> Command:
    def keep(ctx: click.Context, _param: click.Parameter, value: dt.date | None) -> None:
        ctx.meta["planbuilder.today"] = value

    return click.option(
        "--today", type=DATE, expose_value=False, callback=keep, help="The day it is taken to be."
    )(command)


def json_option(command: Command) -> Command:
    return click.option("--json", "as_json", is_flag=True, help="Print JSON, in metres and seconds.")(command)


def runner_option(command: Command) -> Command:
    return click.option("--runner", metavar="NAME", help="Only this runner, by name or key.")(command)


def units_option(command: Command) -> Command:
    return click.option("--units", type=click.Choice(["km", "mi"]), help="Kilometres or miles.")(command)


def today_of(timezone: str | None = None) -> dt.date:
    """The day that --today fixes, else the date in the zone, else on this machine."""
    from zoneinfo import ZoneInfo

    fixed: dt.date | None = click.get_current_context().meta.get("planbuilder.today")
    if fixed is not None:
        return fixed
    now = dt.datetime.now(dt.UTC)
    return now.astimezone(ZoneInfo(timezone) if timezone else None).date()


def now_in(timezone: str) -> dt.datetime:
    """The moment that --today fixes (noon in the zone), else now; aware."""
    return moment(click.get_current_context().meta.get("planbuilder.today"), timezone)


def moment(fixed: dt.date | None, timezone: str) -> dt.datetime:
    from zoneinfo import ZoneInfo

    if fixed is None:
        return dt.datetime.now(dt.UTC)
    return dt.datetime.combine(fixed, dt.time(12), ZoneInfo(timezone)).astimezone(dt.UTC)
