"""A club night in the terminal: the shape once, then groups and lines."""

from __future__ import annotations

from collections.abc import Sequence

from planbuilder.outputs.squad import (
    ClubLine,
    NightSheet,
    SquadRow,
    night_shape,
    own_line,
    own_part,
)
from planbuilder.units import System, say_date, say_effort, say_in, say_minutes, say_pace_band


def night_text(sheet: NightSheet, *, line: str, typed: bool, system: System, easy: bool = False) -> str:
    """The session of a night; ``line`` is what the coach typed or what is proposed, "" where neither is.

    ``easy``: whether the line means an easy run.
    """
    said = "as typed" if typed else "proposed" if line else "by each runner's own plan"
    if typed and sheet.lead is None and not easy:
        said = "nobody's week holds what was typed; why says for each what is in the way"
    where = f", {sheet.place}" if sheet.place else ""
    parts = [
        f"{say_date(sheet.date, year=True)}, {sheet.start:%H:%M}{where}: {sheet.title} ({said})",
        *([f"  {line}"] if line else []),
        *_shape(sheet, system),
        "",
    ]
    for group in sheet.groups:
        band = say_pace_band(group.fast_s_per_km, group.slow_s_per_km, system)
        parts.append(f"Group {group.number}, threshold {band}")
        parts += _lines(group.members, system)
    if sheet.by_effort:
        parts += ["By effort", *_lines(sheet.by_effort, system)]
    if sheet.own:
        parts += [sheet.own_head, *(f"  {row.name}: {own_line(sheet, one)}" for row, one in sheet.own)]
    return "\n".join(parts) + "\n"


def _shape(sheet: NightSheet, system: System) -> list[str]:
    lead = sheet.lead
    if lead is None:
        return [f"  All in at {sheet.ends:%H:%M}."] if sheet.one_end else []
    size = ("up to " if lead.repeats > 1 else "") + say_in(night_shape(lead), system)
    return [
        f"  First whistle {say_minutes(lead.first_s)} after the start; {size}, effort "
        f"{say_effort(lead.effort_rpe)}; all in at {sheet.ends:%H:%M}."
    ]


def _lines(members: Sequence[tuple[SquadRow, ClubLine]], system: System) -> list[str]:
    return [
        f"  {row.name}: {own_part(one)} "
        + (say_pace_band(*one.pace_s_per_km, system) if one.pace_s_per_km else "by effort")
        for row, one in members
    ]
