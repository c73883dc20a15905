"""The coach's own page: who needs a look. The only page with health and breaches on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from markupsafe import Markup

from planbuilder.course.types import Course, Feature
from planbuilder.outputs.pages import safety, words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, race_frame
from planbuilder.outputs.pages.ground import land, picture
from planbuilder.plan.types import Plan, PlanRace, Session
from planbuilder.settings.names import name_order
from planbuilder.settings.notes import NoteKind
from planbuilder.units import count_of

_QUIET: Final[Mapping[NoteKind, str]] = {  # good to know, and no reason to speak to anybody
    "caution": "Caution",
    "given_up": "Given up",
    "exception": "Exception",
    "assumed": "Assumed",
    "override": "Own number",
}
_QUIET_ORDER: Final = tuple(_QUIET.values())
_BREAKS = ("adapt.gap_days", "adapt.late_gap", "load.single_run_window")


@dataclass(frozen=True, slots=True)
class Look:
    """A reason to speak to a runner."""

    kind: str
    text: Markup


@dataclass(frozen=True, slots=True)
class CoachEntry:
    """One runner with what is worth a look."""

    name: str
    link: str
    looks: tuple[Look, ...]  # what is merely good to know last
    summary: Markup

    @property
    def urgent(self) -> bool:
        """Whether there is more than what is good to know."""
        return any(not _is_quiet(look) for look in self.looks)


@dataclass(frozen=True, slots=True)
class CoachView:
    """Everything on the page."""

    frame: Frame
    looked: tuple[CoachEntry, ...]
    fine: tuple[CoachEntry, ...]
    debrief_url: str  # the sheet for the club evening, once somebody raced
    results: tuple[tuple[str, str], ...]  # name, and the result as a line of the next block file
    squad: tuple[str, ...]  # what concerns the whole squad, a paragraph each
    of_all: tuple[Look, ...]  # what would stand alike beside every name
    general: str


def coach_frame(race: PlanRace, course: Course, features: Sequence[Feature]) -> Frame:
    """The head of the coach's page of a race."""
    drawn = picture(land(course), features)
    return race_frame(race, drawn, title=f"{race.name}: for the coach", units=race.markers)


def coach_of(
    frame: Frame,
    entries: Iterable[CoachEntry],
    *,
    debrief_url: str = "",
    results: Iterable[tuple[str, str]] = (),
    squad: Iterable[str] = (),
) -> str:
    """The page ``coach.html`` from what was kept of each plan.

    ``results`` are those of the race, by name, as lines of the next block file; ``squad`` notes about all.
    """
    ordered = sorted(entries, key=lambda entry: (name_order(entry.name), entry.link))
    of_all = _of_all(ordered)
    ordered = [replace(entry, looks=_by_kind(entry.looks, of_all)) for entry in ordered]
    return render(
        "coach.html",
        page=CoachView(
            frame=frame,
            looked=tuple(entry for entry in ordered if entry.urgent),
            fine=tuple(entry for entry in ordered if not entry.urgent),
            debrief_url=debrief_url,
            results=tuple(sorted(results, key=lambda result: name_order(result[0]))),
            squad=tuple(filter(None, squad)),
            of_all=of_all,
            general=safety.GENERAL,
        ),
    )


def _is_quiet(look: Look) -> bool:
    return look.kind in _QUIET_ORDER


def _of_all(entries: Sequence[CoachEntry]) -> tuple[Look, ...]:
    """What is good to know of every runner in the same words, where there are several."""
    if len(entries) < 2:
        return ()
    first, *others = entries
    elsewhere = [set(entry.looks) for entry in others]
    return tuple(
        look for look in first.looks if _is_quiet(look) and all(look in those for those in elsewhere)
    )


def _by_kind(looks: Sequence[Look], of_all: Sequence[Look]) -> tuple[Look, ...]:
    """The looks of a runner without those of all, what is good to know in one paragraph a kind."""
    quiet: dict[str, list[Markup]] = {}
    for look in looks:
        if _is_quiet(look) and look not in of_all:
            quiet.setdefault(look.kind, []).append(look.text)
    loud = (look for look in looks if not _is_quiet(look))
    return (*loud, *(Look(kind, Markup(" ").join(texts)) for kind, texts in quiet.items()))


def coach_entry(plan: Plan, breaches: Sequence[str], outlook: str, *, block: str = "BLOCK") -> CoachEntry:
    """What is worth a look in a plan; ``block`` is its folder in the commands that are shown."""
    return CoachEntry(
        name=plan.runner.name,
        link=f"{plan.runner.key}/plan.html",
        looks=tuple(sorted(_looks(plan, breaches, block), key=_place)),
        summary=_summary(plan, outlook),
    )


def _place(look: Look) -> int:
    return _QUIET_ORDER.index(look.kind) if _is_quiet(look) else -1


def _looks(plan: Plan, breaches: Sequence[str], block: str) -> Iterable[Look]:
    for text in breaches:
        yield Look("Breach", words.sentence(text))
    for note in plan.notes:
        if note.kind == "refusal":
            yield Look("Refused", words.sentence(note.text))
        elif note.private or note.rule == "safety.screening":
            yield Look("Health", words.sentence(note.text))
        elif note.kind == "caution" and note.rule in _BREAKS:
            yield Look("Break", words.sentence(note.text))
        elif note.rule == "adapt.often_missed":
            yield Look("Missed", words.sentence(note.text))
        elif note.kind in _QUIET:
            yield Look(_QUIET[note.kind], words.sentence(note.text))
    for note in plan.private_notes:
        said = words.sentence(note.text).replace("planbuilder edit BLOCK ", f"planbuilder edit {block} ")
        yield Look("Health", said)
    changed: dict[str, list[Session]] = {}
    for session in plan.sessions:
        if session.private_note:
            changed.setdefault(session.private_note, []).append(session)
    for why, sessions in changed.items():
        first, *others = sessions
        more = f" and {count_of(len(others), 'session')} behind it" if others else ""
        named = f"{first.title}{more}"
        yield Look(
            "Health",
            Markup("{}, {}: {}").format(words.short_date(first.date), named, words.sentence(why)),
        )
    if plan.form.anchor is None:
        yield Look("No result", Markup("Trains by effort until there is one."))
    elif plan.form.stale:
        yield Look("Old result", Markup("Trains by effort until a newer one is there."))
    refused = any(note.kind == "refusal" and note.rule == "race.goal" for note in plan.notes)
    if plan.race_plan.goal.verdict in ("stretch", "not this block") and not refused:
        yield Look("Goal", words.sentence(plan.race_plan.goal.sentence))


def _summary(plan: Plan, outlook: str) -> Markup:
    longest = max((week.distance_m for week in plan.weeks), default=0.0)
    count = sum(week.phase != "after" for week in plan.weeks)
    weeks = Markup("{} weeks, at most {} a week.").format(count, words.run(longest))
    return Markup("{} {}").format(weeks, words.sentence(outlook)) if outlook else weeks
