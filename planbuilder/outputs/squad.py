"""What a squad's board needs of each plan: little enough to keep for thousands of runners.

Receives: finished plans, one after the other.
Gives: a ``SquadRow`` of each, the sheet of every club night, the board as a table. Nothing of health is in
any of them: a session that was changed for a private reason is the runner's own.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from planbuilder.outputs.squad_note import kept_from
from planbuilder.outputs.step_text import main_part, raced_m
from planbuilder.outputs.tables import safe_cell
from planbuilder.plan.types import Plan, Session, Step
from planbuilder.plan.walk import timeline
from planbuilder.rules.night_shape import lasts_s, row_words
from planbuilder.rules.phases import monday_of
from planbuilder.rules.typed_night import TypedNight
from planbuilder.schedule.group_night import MUCH_S, group_reason, runs_easily, whistle_of
from planbuilder.schedule.groups import pace_groups
from planbuilder.settings.limits import Limits
from planbuilder.settings.names import name_order
from planbuilder.units import System, in_minutes, length_mark, say_in, say_minutes, say_run, say_weekday

OWN_SESSION = "Own session"


@dataclass(frozen=True, slots=True)
class Entry:
    """A session in a few words."""

    date: dt.date
    clock: str
    title: str
    distance_m: float  # 0 where it is dosed in minutes
    minutes: int
    race: bool
    part: str | None = None  # its work, with marks; "" where it is of many sizes, None where there is none


@dataclass(frozen=True, slots=True)
class ClubLine:
    """One runner's part in a club night; seconds count from the start."""

    date: dt.date
    start: dt.time
    place: str
    kind: str
    title: str
    first_s: float  # 0 where nothing is repeated
    repeats: int
    repeat_s: float
    recovery_s: float
    duration_s: float
    effort_rpe: tuple[float, float]
    pace_s_per_km: tuple[float, float] | None
    uphill: bool
    ends_s: float | None = None  # when all are in, where the night has one end for all
    own: bool = False  # on ground that stands in for the group's
    row: tuple[tuple[float, float], ...] = ()  # where the stretches differ: work and the recovery behind it
    trial_m: float = 0.0  # the distance of a time trial
    grouped: bool = False  # the work of the group, not an easy run or a session of one's own

    @property
    def shape(self) -> tuple[str, float]:
        """What all who share the whistle have in common."""
        return self.kind, self.first_s

    @property
    def stretches(self) -> tuple[tuple[float, float], ...]:
        """Every stretch of work, and the recovery behind it."""
        return self.row or ((self.repeat_s, self.recovery_s),) * self.repeats

    @property
    def last_s(self) -> float:
        """When the last stretch of work ends."""
        return self.first_s + lasts_s(self.stretches)


@dataclass(frozen=True, slots=True)
class SquadRow:
    """One runner on the board."""

    key: str
    name: str  # first name and an initial
    race: str
    units: System
    threshold_s_per_km: float | None
    entries: tuple[Entry, ...]
    nights: tuple[ClubLine, ...]
    kept_from: tuple[str, ...] = ()  # what two club nights a week leave no day for
    whole: str = ""  # the name as typed, to tell two alike apart; it is never shown


@dataclass(frozen=True, slots=True)
class SheetGroup:
    """A pace group of a night."""

    number: int
    fast_s_per_km: float
    slow_s_per_km: float
    members: tuple[tuple[SquadRow, ClubLine], ...]


@dataclass(frozen=True, slots=True)
class NightSheet:
    """A club night: written once as shape, then the groups, then those with a line of their own."""

    date: dt.date
    start: dt.time
    place: str
    title: str
    lead: ClubLine | None  # who does most; None where the whole group runs easily
    ends: dt.time
    groups: tuple[SheetGroup, ...]
    by_effort: tuple[tuple[SquadRow, ClubLine], ...]  # in the session, without paces yet
    own: tuple[tuple[SquadRow, ClubLine], ...]
    one_end: bool  # for all; none in race week, where everybody goes by their own plan
    last_s: float = 0.0  # the last whistle, as the plans of all have it

    @property
    def own_head(self) -> str:
        """What stands above the lines of those with a session of their own."""
        if self.lead is None:
            return "Everybody"
        return f"Own session, same start{' and end' if self.one_end else ''}"

    @property
    def comes(self) -> int:
        """How many are expected."""
        return sum(len(group.members) for group in self.groups) + len(self.by_effort) + len(self.own)


def squad_row(plan: Plan, *, with_weeks: bool = True) -> SquadRow:
    """What the board keeps of a plan; ``with_weeks`` False leaves out all but the club nights."""
    shown = [session for session in plan.sessions if not session.cancelled]
    threshold = plan.form.threshold_mps
    return SquadRow(
        key=plan.runner.key,
        name=board_name(plan.runner.name),
        race=plan.race.name,
        units=plan.runner.units,
        threshold_s_per_km=1000 / threshold if threshold and not plan.form.by_effort else None,
        entries=tuple(_entry(session) for session in shown) if with_weeks else (),
        nights=tuple(
            _club_line(session)
            for session in shown
            if session.role == "club" and session.start_time is not None
        ),
        kept_from=kept_from(plan),
        whole=plan.runner.name,
    )


def board_name(name: str) -> str:
    """A first name with an initial, whatever was typed.

    >>> board_name("Ines Almeida"), board_name("Tom"), board_name("Sam <3")
    ('Ines A', 'Tom', 'Sam')
    """
    first, *others = name.split()
    initials = [letter for letter in (others[-1] if others else "") if letter.isalpha()]
    return " ".join([first, *initials[:1]])


def board_names(names: Iterable[str]) -> dict[str, str]:
    """Names on the board by what was typed: of two alike the surname is as long as tells them apart.

    >>> board_names(["Tom Baker", "Tom Bates", "Ines Almeida"])
    {'Tom Baker': 'Tom Bak', 'Tom Bates': 'Tom Bat', 'Ines Almeida': 'Ines A'}
    >>> board_names(["Tom B", "Tom Ba"])
    {'Tom B': 'Tom B', 'Tom Ba': 'Tom Ba'}
    """
    found = {name: board_name(name) for name in names}
    alike: dict[str, list[str]] = {}
    for name, short in found.items():
        alike.setdefault(short, []).append(name)
    for those in alike.values():
        last = {name: "".join(filter(str.isalpha, name.split()[-1])) for name in those if " " in name}
        for letters in range(2, max(map(len, last.values()), default=0) + 1):
            if len({found[name] for name in those}) == len(those):
                break
            found |= {name: f"{name.split()[0]} {surname[:letters]}" for name, surname in last.items()}
    return found


def told_apart(rows: Iterable[SquadRow]) -> list[SquadRow]:
    """The same rows under names that no two of them share, as far as what was typed differs."""
    rows = list(rows)
    names = board_names(row.whole for row in rows if row.whole)
    return [replace(row, name=names[row.whole]) if row.whole else row for row in rows]


def _entry(session: Session) -> Entry:
    by_distance = sum(step.repeat * (step.distance_m or 0.0) for step in session.steps)
    in_distance = by_distance > session.distance_m / 2 and session.role not in ("strength", "cross")
    return Entry(
        session.date,
        f"{session.start_time.hour}:{session.start_time.minute:02d}" if session.start_time else "",
        OWN_SESSION if session.private_note else session.title,
        (raced_m(session) or session.distance_m) if in_distance else 0.0,
        in_minutes(session.duration_s),
        session.role in ("race", "tune_up"),
        None if session.private_note else main_part(session),
    )


def _club_line(session: Session) -> ClubLine:
    stretches = _stretches(session)
    even = len({work for work, _ in stretches}) <= 1 and len({rest for _, rest in stretches[:-1]}) <= 1
    work = next((step for step in session.steps if step.kind == "work"), None)
    step = work or session.steps[0]
    return ClubLine(
        date=session.date,
        start=session.start_time or dt.time(0),
        place=session.place,
        kind="" if session.private_note else session.kind,
        title=_club_title(session, step),
        first_s=next((leg.start_s for leg in timeline(session.steps) if leg.kind == "work"), 0.0),
        repeats=len(stretches),
        repeat_s=stretches[0][0] if stretches else 0.0,
        recovery_s=stretches[0][1] if stretches else 0.0,
        duration_s=session.duration_s,
        effort_rpe=step.effort_rpe,
        pace_s_per_km=work.pace_s_per_km if work else None,
        uphill=bool(work and work.ground.kind in ("up", "drag")),
        ends_s=session.group_s,
        own=_on_other_ground(session),
        row=() if even else stretches,
        trial_m=(work.distance_m or 0.0) if work else 0.0,
        grouped=group_reason(session),
    )


def _stretches(session: Session) -> tuple[tuple[float, float], ...]:
    """Every stretch of work and the recovery behind it, seconds; work without a break is one stretch."""
    found: list[tuple[float, float]] = []  # when it begins and ends
    for leg in timeline(session.steps):
        if leg.kind != "work":
            continue
        ends_s = leg.start_s + leg.duration_s
        if found and leg.start_s - found[-1][1] < 0.5:
            found[-1] = (found[-1][0], ends_s)
        else:
            found.append((leg.start_s, ends_s))
    rests = [*(later[0] - now[1] for now, later in pairwise(found)), 0.0][: len(found)]
    return tuple(
        (round(end - begin, 1), round(rest, 1)) for (begin, end), rest in zip(found, rests, strict=True)
    )


def _club_title(session: Session, step: Step) -> str:
    """The title, with the ground that stands in for the group's hill."""
    if session.private_note:
        return OWN_SESSION
    instead = f" on {step.ground.words}" if _on_other_ground(session) and step.ground.words else ""
    return session.title + instead


def _on_other_ground(session: Session) -> bool:
    """Whether something stands in for the hill; who does the work of the group is on the group's hill."""
    return bool(session.substitute) and not group_reason(session)


def night_sheets(
    rows: Iterable[SquadRow], limits: Limits, typed: Mapping[dt.date, TypedNight] | None = None
) -> tuple[NightSheet, ...]:
    """The sheet of every night to which anybody comes, by date; the order of the rows changes nothing.

    The head of a night is what the coach typed for its date, where the plans are of that line.
    """
    nights: dict[tuple[dt.date, dt.time], list[tuple[SquadRow, ClubLine]]] = {}
    for row in told_apart(rows):
        for line in row.nights:
            nights.setdefault((line.date, line.start), []).append((row, line))
    typed = typed or {}
    return tuple(_sheet(nights[moment], limits, typed.get(moment[0])) for moment in sorted(nights))


def _as_typed(lead: ClubLine, night: TypedNight, limits: Limits) -> ClubLine:
    """The night under its own name; a row of parts in place of the part of it that the first runner does.

    Of repeats it says as many as somebody runs, not as many as were typed or proposed.
    """
    whistle = whistle_of(night, limits)
    if whistle is None or len(whistle.stretches) < len(lead.stretches):
        return lead
    fits = all(
        mine <= whole + 1 for (mine, _), (whole, _) in zip(lead.stretches, whistle.stretches, strict=False)
    )
    if not fits or abs(whistle.first_s - lead.first_s) > 1:
        return lead
    titles = list(dict.fromkeys(one.template.title for one in night.row)) or [night.template.title]
    alike = lead.kind == night.base
    return replace(
        lead,
        title=" and ".join([titles[0], *(name[0].lower() + name[1:] for name in titles[1:])]),
        repeats=len(whistle.stretches) if night.row else lead.repeats,
        row=whistle.stretches if night.row else lead.row,
        trial_m=(night.row[0].distance_m or 0.0) if night.row else 0.0,
        effort_rpe=lead.effort_rpe if alike else night.template.effort,
    )


def _sheet(
    parts: Sequence[tuple[SquadRow, ClubLine]], limits: Limits, night: TypedNight | None
) -> NightSheet:
    parts = sorted(parts, key=lambda part: (name_order(part[0].name), part[0].key))
    some = parts[0][1]
    group = _group(parts, night.base if night is not None else "")
    lead = max(
        (line for _, line in group), key=lambda line: (line.trial_m, line.last_s, line.repeats), default=None
    )
    if lead is not None:  # all who share the whistle, whatever race each of them trains for
        efforts = [line.effort_rpe for _, line in group]
        low, high = min(low for low, _ in efforts), max(high for _, high in efforts)
        lead = replace(lead, effort_rpe=(low, high))
    if lead is not None and night is not None:
        lead = _as_typed(lead, night, limits)
    easy = Counter(line.title for _, line in parts if line.title != OWN_SESSION)
    paced = {row.key: row.threshold_s_per_km for row, _ in group if row.threshold_s_per_km is not None}
    by_key = {row.key: (row, line) for row, line in group}
    places = Counter(line.place for _, line in parts)
    return NightSheet(
        date=some.date,
        start=some.start,
        place=min(places, key=lambda place: (-places[place], place)),
        title=lead.title if lead else _easy_title(night, easy),
        lead=lead,
        ends=_ends([line for _, line in parts], [line for _, line in group or parts]),
        groups=tuple(
            SheetGroup(
                one.number,
                one.fast_s_per_km,
                one.slow_s_per_km,
                tuple(by_key[key] for key in one.keys),
            )
            for one in pace_groups(paced, limits, slower_at_the_border=bool(lead and lead.uphill))
        ),
        by_effort=tuple(part for part in group if part[0].key not in paced),
        own=tuple(part for part in parts if part[0].key not in by_key),
        one_end=any(line.ends_s is not None for _, line in parts),
        last_s=_last_whistle_s(lead, [line for _, line in parts], limits),
    )


def _easy_title(night: TypedNight | None, titles: Counter[str]) -> str:
    """What a night without a group is called: as the coach typed it, where anybody's run is that, else what
    more than half of them do."""
    if night is not None and runs_easily(night) and not night.proposed and night.template.title in titles:
        return night.template.title
    return next((title for title in titles if 2 * titles[title] > titles.total()), "Easy run with the group")


def _group(parts: Sequence[tuple[SquadRow, ClubLine]], base: str) -> list[tuple[SquadRow, ClubLine]]:
    """Who does the work of the night; nobody on an easy night, whatever a few do on their own.

    Those who run what was typed, the kind ``base``, come before those with another form of it. Where no
    session was set for all, it is what at least half of those who come have in common.
    """
    grouped = [part for part in parts if part[1].grouped]
    shared = [part for part in grouped or parts if not part[1].own] or grouped or list(parts)
    shapes = Counter(line.shape for _, line in shared if line.repeats and line.kind)
    if not shapes:
        return []
    common = min(shapes, key=lambda shape: (shape[0] != base, -shapes[shape], shape))
    if not grouped and shapes[common] < len(parts) / 2:
        return []
    return [part for part in shared if part[1].shape == common]


def _ends(lines: Sequence[ClubLine], group: Sequence[ClubLine]) -> dt.time:
    """When all are in: as every page says where the night has a whistle, else when the longest is done."""
    told = [line.ends_s for line in lines if line.ends_s is not None]
    seconds = max(told or [line.duration_s for line in group])
    return (dt.datetime.combine(lines[0].date, lines[0].start) + dt.timedelta(seconds=seconds)).time()


def _last_whistle_s(lead: ClubLine | None, lines: Sequence[ClubLine], limits: Limits) -> float:
    """Seconds after the start: before the cool-down that ends for all, else behind the work of the lead."""
    if lead is None:
        return 0.0
    ends = [line.ends_s for line in lines if line.ends_s is not None]
    together = max(ends) - limits.number("squad.cool_down") * 60 if ends else 0.0
    return max(together, lead.last_s)


def night_shape(lead: ClubLine) -> str:
    """The work of those who do most, with unit marks: "6 × 3 min, 90 s between"."""
    return f"time trial over {length_mark(lead.trial_m)}" if lead.trial_m else row_words(lead.stretches)


def own_part(line: ClubLine) -> str:
    """What of it one runner does: "5 ×", "2 sets of 4 × 45 s", "all-out" a time trial."""
    if line.trial_m:
        return "all-out"
    if line.row:
        return row_words(line.row, rests=False)
    return f"{line.repeats} ×" if line.repeats > 1 else say_minutes(line.repeat_s)


def own_line(sheet: NightSheet, line: ClubLine) -> str:
    """A session of one's own, how long it is, when it is done where that is well before the group's end."""
    minutes = in_minutes(line.duration_s)
    named = (sheet.lead or line.title != sheet.title) and line.title != OWN_SESSION
    part = f"{own_part(line)}, " if line.grouped and (line.repeats > 1 or line.row) else ""
    said = say_minutes(minutes * 60)
    said = f"{line.title.lower()}, {part}{said}" if named else said
    early_s = (line.ends_s or line.duration_s) - line.duration_s
    if abs(early_s) < MUCH_S:
        return said
    if early_s < 0:
        return f"{said}, the last {say_minutes(in_minutes(-early_s) * 60)} alone"
    ends = dt.datetime.combine(line.date, line.start) + dt.timedelta(minutes=minutes)
    return f"{said} to {ends:%H:%M}"


def board_csv(rows: Iterable[SquadRow]) -> str:
    """The board as a table: a line for each runner and week, a column for each day."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    monday = dt.date(2027, 1, 4)
    days = [say_weekday(monday + dt.timedelta(days=day)) for day in range(7)]
    writer.writerow(["runner", "week of", *days])
    for row in sorted(told_apart(rows), key=lambda row: (name_order(row.name), row.key)):
        weeks: dict[dt.date, list[str]] = {}
        for entry in row.entries:
            first = monday_of(entry.date)
            cells = weeks.setdefault(first, [""] * 7)
            said = " ".join(part for part in (entry.clock, entry.title, entry_size(entry, row.units)) if part)
            before = cells[entry.date.weekday()]
            cells[entry.date.weekday()] = f"{before}; {said}" if before else said
        for first, cells in sorted(weeks.items()):
            writer.writerow([safe_cell(cell) for cell in (row.name, first.isoformat(), *cells)])
    return text.getvalue()


def entry_size(entry: Entry, system: System) -> str:
    """How much it is: its work where it has some, else the whole in what it is dosed in."""
    if entry.part:
        return say_in(entry.part, system)
    return say_run(entry.distance_m, system) if entry.distance_m else say_minutes(entry.minutes * 60)
