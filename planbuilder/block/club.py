"""club.toml: the club nights that several blocks share, and what the coach typed for a night.

Receives: the path that ``training.club`` names, in the block folder or beside it.
Gives: the nights, each read into a kind of session; problems with file and line.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import tomlkit

from planbuilder.outputs.safe_write import write_whole
from planbuilder.rules.library import Library
from planbuilder.rules.typed_night import TypedNight, read_night
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import WEEKDAYS, BlockSettings, ClubNight, ClubSettings, read_date
from planbuilder.settings.problems import InputProblems, Problem
from planbuilder.settings.toml_lines import line_of, parse_model, read_text, read_toml
from planbuilder.units import say_date

OFF: Final = ("off", "called off", "cancelled", "canceled", "no club", "no club night")


@dataclass(frozen=True)
class Club:
    """What the blocks of one club share."""

    club_nights: tuple[ClubNight, ...] = ()
    nights: Mapping[dt.date, TypedNight] = field(default_factory=dict)
    off: Mapping[dt.date, str] = field(default_factory=dict)  # nights that are off, and where it is written

    def applied_to(
        self, settings: BlockSettings, library: Library
    ) -> tuple[BlockSettings, Library, dict[dt.date, TypedNight]]:
        """The block with the club's nights where it has none of its own, and with the typed kinds."""
        training = settings.training
        if not training.club_nights:
            training = training.model_copy(update={"club_nights": self.club_nights})
        if self.off:
            off = tuple(sorted({*training.nights_off, *self.off}))
            training = training.model_copy(update={"nights_off": off})
        return (
            settings.model_copy(update={"training": training}),
            library.with_kinds({night.template.name: night.template for night in self.nights.values()}),
            dict(self.nights),
        )


def read_club(
    path: str | None, inside: Callable[..., Path | None], library: Library, limits: Limits
) -> tuple[Club, list[Problem]]:
    """The club's file, or an empty club where the block names none."""
    if path is None:
        return Club(), []
    whole = inside(path, shared=True)
    if whole is None:
        return Club(), [
            Problem(path, None, "the club file must be in the block folder or beside it", "it is not")
        ]
    shown_as = str(whole)
    data, lines = read_toml(whole, shown_as=shown_as)
    settings, problems = parse_model(ClubSettings, data, lines, shown_as=shown_as)
    if settings is None:
        return Club(), problems
    days = {night.day for night in settings.club_nights}
    nights: dict[dt.date, TypedNight] = {}
    off: dict[dt.date, str] = {}
    for typed_date, text in settings.nights.items():
        line = line_of(("nights", typed_date), lines)
        try:
            date = read_date(typed_date, such="2027-03-02")
        except ValueError as error:
            must = str(error).rpartition(", not ")[0]
            problems.append(Problem(shown_as, line, f"a night must have {must}", f'not "{typed_date}"'))
            continue
        if date in nights or date in off:
            must, todo = "a night must have one line", f"Take out one of those for {date}."
            problems.append(Problem(shown_as, line, must, f'"{typed_date}" has two', todo))
        if days and WEEKDAYS[date.weekday()] not in days:
            must = f"{typed_date} must be a club night ({', '.join(sorted(days))})"
            problems.append(Problem(shown_as, line, must, f"it is a {WEEKDAYS[date.weekday()]}"))
        if " ".join(text.lower().split()).rstrip(".!") in OFF:
            off[date] = f"{shown_as}:{line}"
            continue
        try:
            nights[date] = read_night(text, name=f"night_{date:%Y_%m_%d}", library=library, limits=limits)
        except ValueError as error:
            must, _, found = str(error).rpartition(", not ")
            todo = f'To call it off for everybody: "{date}" = "off".'
            problems.append(
                Problem(
                    shown_as, line, f"the night must be {must or found}", f"not {found}" if must else "", todo
                )
            )
    return Club(settings.club_nights, nights, off), problems


def night_off(off: Mapping[dt.date, str], word: str) -> Problem | None:
    """That a date names a club night that is off, and where that is written; None where it does not."""
    for date, where in off.items():
        if word == str(date):
            return Problem(
                where,
                None,
                "the date must be that of a club night that is held",
                f"the night of {say_date(date, year=True)} is off for everybody",
                "Take it out there, then edit.",
            )
    return None


def other_blocks(folder: Path, club: str) -> tuple[Path, ...]:
    """The folders of the other blocks that share a club's file, beside it or one below."""
    file, found = (folder / club).resolve(), []
    for settings in sorted({*file.parent.glob("block.toml"), *file.parent.glob("*/block.toml")}):
        try:
            data, _ = read_toml(settings, shown_as=str(settings))
        except InputProblems:
            continue
        training = data.get("training")
        named = training.get("club") if isinstance(training, Mapping) else None
        shared = isinstance(named, str) and (settings.parent / named).resolve() == file
        if shared and settings.parent != folder.resolve():
            found.append(settings.parent)
    return tuple(found)


def write_night(path: Path, date: dt.date, text: str) -> None:
    """Write a night down in club.toml; comments and everything else stay as they are."""
    document = tomlkit.parse(read_text(path, shown_as=str(path))) if path.exists() else tomlkit.document()
    nights = document.setdefault("nights", tomlkit.table())
    nights[date.isoformat()] = text
    write_whole(path, tomlkit.dumps(document).encode())
