"""The runner's own page: today first, then the block, then everything behind it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.pages import safety, words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, plan_frame
from planbuilder.outputs.pages.ground import land
from planbuilder.outputs.pages.links import Links, qr_code
from planbuilder.outputs.pages.race_views import RaceView, race_as_planned
from planbuilder.outputs.pages.rehearsal_view import RehearsalView, rehearsal_view
from planbuilder.outputs.pages.sources import RuleView, rules_of, sources_of
from planbuilder.outputs.pages.wall import Wall, wall
from planbuilder.outputs.pages.weeks import Chart, WeekDone, WeekView, chart, week_views
from planbuilder.plan.types import Plan
from planbuilder.runner.types import Band
from planbuilder.settings.notes import Note, NoteKind

FIRST_NOTES = 3
_TIME_REFUSED = "phase.runway"  # the rule behind a plan for finishing well


@dataclass(frozen=True, slots=True)
class NoteView:
    """A note with the session it speaks of."""

    text: Markup
    rule: str
    kind: NoteKind
    session: str


@dataclass(frozen=True, slots=True)
class NoteGroup:
    """Notes of one kind."""

    title: str
    notes: tuple[NoteView, ...]


@dataclass(frozen=True, slots=True)
class BandView:
    """A pace band."""

    name: str
    effort: str
    talk: str
    pace: Markup  # empty: by effort
    heart_rate: str
    why: Markup


@dataclass(frozen=True, slots=True)
class PlanView:
    """Everything on the page."""

    frame: Frame
    runner: str
    start: str
    distance: Markup
    race: RaceView
    timed: bool  # whether the times of the race may head the page
    refusal: Markup  # the first thing refused, in one sentence
    first_notes: tuple[NoteView, ...]
    more_notes: tuple[NoteGroup, ...]
    weeks: tuple[WeekView, ...]
    wall: Wall
    chart: Chart
    own_scale: bool  # sessions are drawn on the race's own scale
    race_land: str  # closed path of the race on the scale of the sessions
    stretches: tuple[tuple[str, str], ...]  # id and path of every stretch that a session rehearses
    bands: tuple[BandView, ...]
    has_heart_rate: bool
    paces: Markup
    results: tuple[Markup, ...]
    class_words: Markup
    outlook: Markup
    has_log: bool
    stop_signs: tuple[safety.StopSign, ...]
    pain: str
    road: tuple[str, ...]
    general: str
    rules: tuple[RuleView, ...]
    rule_names: frozenset[str]
    sources: tuple[str, ...]
    links: Links
    qr: Markup
    remarks: tuple[Markup, ...]
    rehearsal: RehearsalView | None


def render_plan(
    plan: Plan,
    *,
    links: Links | None = None,
    done: Mapping[int, WeekDone] | None = None,
    outlook: str = "",
) -> str:
    """The page of one runner, ``plan.html``.

    ``done`` holds by week number what the log says was run, ``outlook`` what that means for the race in one
    sentence. Without ``links`` the page is the coach's own copy, and no subscription is offered.
    """
    return render("plan.html", page=plan_view(plan, links=links, done=done, outlook=outlook))


def plan_view(
    plan: Plan,
    *,
    links: Links | None = None,
    done: Mapping[int, WeekDone] | None = None,
    outlook: str = "",
) -> PlanView:
    """The plan, ready to print."""
    links, done = links or Links(), done or {}
    longest_m = max((session.distance_m for session in plan.sessions), default=0.0)
    own_scale = longest_m <= plan.course.distance_m
    scaled = land(plan.course, width_m=longest_m)
    first, more = _notes(plan.notes)
    refused = [note for note in plan.notes if note.kind == "refusal" and not note.private]
    rules = rules_of(plan)
    subscribe = links.feed_url or links.page_url
    weeks = week_views(plan, scaled, plan.features, done)
    return PlanView(
        frame=plan_frame(
            plan,
            title=f"{plan.runner.name}: {plan.race.name}",
            script="plan.js",
            store=f"{plan.race.key}/{plan.runner.key}",
            drawn=scaled if own_scale else None,
        ),
        runner=plan.runner.name,
        start=words.clock(plan.race.start.time()),
        distance=words.length(plan.race.distance_m),
        race=race_as_planned(plan),
        timed=not (plan.race_plan.for_finishing or any(note.rule == _TIME_REFUSED for note in refused)),
        refusal=words.sentence(_first_sentence(refused[0].text)) if refused else Markup(""),
        first_notes=first,
        more_notes=more,
        weeks=weeks,
        wall=wall(plan.weeks),
        chart=chart(plan.weeks, done),
        own_scale=own_scale,
        race_land=scaled.closed(0.0, scaled.finish_m, 600.0),
        stretches=_stretches(weeks),
        bands=tuple(_band(band) for band in plan.paces.bands),
        has_heart_rate=any(band.heart_rate_low for band in plan.paces.bands),
        paces=words.sentence(plan.paces.words),
        results=tuple(words.sentence(result.words) for result in plan.form.results),
        class_words=Markup("{} course. {}").format(
            plan.demands.course_class.capitalize(), words.sentence(plan.demands.class_why)
        ),
        outlook=words.sentence(outlook),
        has_log=bool(done),
        stop_signs=safety.STOP_SIGNS,
        pain=safety.PAIN,
        road=safety.ROAD,
        general=safety.GENERAL,
        rules=rules,
        rule_names=frozenset(rule.name for rule in rules),
        sources=sources_of(rules),
        links=links,
        qr=qr_code(subscribe) if subscribe else Markup(""),
        remarks=tuple(
            Markup("{}: {}").format(words.place(remark.at_m), words.sentence(remark.text))
            for remark in sorted(plan.remarks, key=lambda remark: remark.at_m)
        ),
        rehearsal=rehearsal_view(plan.rehearsal, plan.runner.units),
    )


def _first_sentence(text: str) -> str:
    return re.split(r"(?<=[.!?]) (?=[A-Z])", text, maxsplit=1)[0]


def _stretches(weeks: Sequence[WeekView]) -> tuple[tuple[str, str], ...]:
    """Every stretch once, however many sessions rehearse it."""
    found = {
        stretch.id: stretch.path
        for week in weeks
        for session in week.sessions
        if session.ground
        for stretch in session.ground.stretches
    }
    return tuple(sorted(found.items()))


_ORDER: dict[NoteKind, str] = {
    "refusal": "What this plan will not do",
    "caution": "Please read",
    "given_up": "What we gave up, and why",
    "exception": "Where a rule allowed an exception",
    "override": "Numbers your coach changed",
    "assumed": "What we took as given, because nothing was said",
    "info": "Also worth knowing",
}


def _notes(notes: Sequence[Note]) -> tuple[tuple[NoteView, ...], tuple[NoteGroup, ...]]:
    """At most three notes for the first screen, and all the others by kind."""
    public = [note for note in notes if not note.private]
    urgent = [note for note in public if note.kind in ("refusal", "caution", "given_up")]
    first = urgent[:FIRST_NOTES]
    rest = [note for note in public if note not in first]
    groups = (
        NoteGroup(title, tuple(_note(note) for note in rest if note.kind == kind))
        for kind, title in _ORDER.items()
    )
    return tuple(_note(note) for note in first), tuple(group for group in groups if group.notes)


def _note(note: Note) -> NoteView:
    return NoteView(words.sentence(note.text), note.rule, note.kind, note.session or "")


def _band(band: Band) -> BandView:
    by_clock = band.fast_s_per_km is not None and band.slow_s_per_km is not None
    return BandView(
        name=band.name,
        effort=words.effort((band.rpe_low, band.rpe_high)),
        talk=band.talk,
        pace=words.pace_band(band.fast_s_per_km, band.slow_s_per_km)
        if by_clock and band.fast_s_per_km is not None and band.slow_s_per_km is not None
        else Markup(""),
        heart_rate=f"{band.heart_rate_low}–{band.heart_rate_high}" if band.heart_rate_low else "",
        why=words.sentence(band.why),
    )
