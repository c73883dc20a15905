"""A club night as a sheet to print: the shape, the groups, the register."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.pages import words
from planbuilder.outputs.squad import (
    ClubLine,
    NightSheet,
    SheetGroup,
    SquadRow,
    night_shape,
    own_line,
    own_part,
)
from planbuilder.units import say_date

_EVENING = dt.time(17)


@dataclass(frozen=True, slots=True)
class MemberView:
    """One line of the register."""

    name: str
    part: str  # "5 ×", "easy run with the group, 40 min to 19:40"
    pace: Markup


@dataclass(frozen=True, slots=True)
class GroupView:
    """A pace group with its register."""

    title: str
    band: Markup  # of its members on this night; empty without paces
    members: tuple[MemberView, ...]


@dataclass(frozen=True, slots=True)
class NightView:
    """The sheet of a night."""

    id: str
    day: str
    clock: str
    place: str
    title: str
    shape: tuple[tuple[str, Markup], ...]  # clock, what happens
    effort: str
    groups: tuple[GroupView, ...]
    comes: int
    lights: bool
    grouped: bool  # groups by pace, made for this night alone


def night_view(sheet: NightSheet) -> NightView:
    """A night, ready to print."""
    groups = [_group(group) for group in sheet.groups]
    if sheet.by_effort:
        groups.append(GroupView("By effort", Markup(""), tuple(_member(*one) for one in sheet.by_effort)))
    if sheet.own:
        groups.append(GroupView(sheet.own_head, Markup(""), tuple(_own(sheet, *one) for one in sheet.own)))
    return NightView(
        id=f"night-{sheet.date.isoformat()}-{sheet.start:%H%M}",
        day=say_date(sheet.date),
        clock=words.clock(sheet.start),
        place=sheet.place,
        title=sheet.title,
        shape=tuple(_shape(sheet)),
        effort=words.effort(sheet.lead.effort_rpe) if sheet.lead else "",
        groups=tuple(groups),
        comes=sheet.comes,
        lights=sheet.ends >= _EVENING,
        grouped=bool(sheet.groups),
    )


def _shape(sheet: NightSheet) -> list[tuple[str, Markup]]:
    """What happens when, on the one watch of the evening."""
    lead = sheet.lead
    sooner = "; whoever is done sooner walks or stretches until then" if sheet.one_end and sheet.own else ""
    all_in = (words.clock(sheet.ends), Markup(f"all are in{sooner}"))
    if lead is None:
        begin = (words.clock(sheet.start), Markup("easy running together, whole sentences"))
        return [begin, *([all_in] if sheet.one_end else [])]
    once = lead.repeats == 1
    rest = "" if once else "; on the whistle for everybody"
    jogs = sheet.last_s - lead.last_s > 1  # nobody runs until then
    fewer = "; who is done jogs until then" if jogs else "" if once else "; whoever did fewer jogs until then"
    last = (_clock(sheet, sheet.last_s), Markup(f"last whistle, cool-down together{fewer}"))
    return [
        (words.clock(sheet.start), Markup("warm-up together")),
        (_clock(sheet, lead.first_s), words.both(f"{night_shape(lead)}{rest}")),
        *([] if lead.trial_m else [last]),
        all_in,
    ]


def _clock(sheet: NightSheet, seconds: float) -> str:
    moment = dt.datetime.combine(sheet.date, sheet.start) + dt.timedelta(seconds=seconds)
    return words.clock(moment.time())


def _group(group: SheetGroup) -> GroupView:
    """A group under the paces of this night, from its quickest to its slowest member."""
    bands = [line.pace_s_per_km for _, line in group.members if line.pace_s_per_km]
    quick, slow = min((band[0] for band in bands), default=0.0), max((band[1] for band in bands), default=0.0)
    return GroupView(
        f"Group {group.number}",
        words.pace_band(quick, slow) if bands else Markup(""),
        tuple(_member(row, line) for row, line in group.members),
    )


def _member(row: SquadRow, line: ClubLine) -> MemberView:
    pace = words.pace_band(*line.pace_s_per_km) if line.pace_s_per_km else Markup("by effort")
    return MemberView(row.name, own_part(line), pace)


def _own(sheet: NightSheet, row: SquadRow, line: ClubLine) -> MemberView:
    return MemberView(row.name, own_line(sheet, line), Markup(""))
