"""The course as a coach reads it aloud at a club evening."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.course.types import Course, Feature, Remark, Split
from planbuilder.demands.types import CourseDemands
from planbuilder.outputs.pages import words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, course_frame
from planbuilder.outputs.pages.ground import Land, land
from planbuilder.plan.types import Plan
from planbuilder.race.types import PreviewStretch
from planbuilder.units import System

_STRETCH_PX = 34.0  # height of the course under each stretch


@dataclass(frozen=True, slots=True)
class PreviewView:
    """A stretch, told to everybody."""

    name: Markup
    where: Markup
    grade: str
    gain: Markup
    decisive: bool
    marked: str  # path of the stretch on the land of the page
    ground: Markup
    todo: Markup
    mistake: Markup
    costs: tuple[Markup, ...]
    remarks: tuple[Markup, ...]
    block_does: Markup


@dataclass(frozen=True, slots=True)
class FeatureView:
    """A feature in numbers."""

    name: str
    where: Markup
    length: Markup
    gain: Markup
    grade: str
    steepest: str
    done: str
    decisive: bool


@dataclass(frozen=True, slots=True)
class SplitView:
    """A kilometre or mile in numbers."""

    number: str
    net: Markup
    up: Markup
    down: Markup
    grade: str
    steepest: str
    words: Markup


@dataclass(frozen=True, slots=True)
class CourseView:
    """Everything on the page."""

    frame: Frame
    class_words: Markup
    totals: tuple[tuple[str, Markup], ...]
    notes: tuple[Markup, ...]
    preview: tuple[PreviewView, ...]
    features: tuple[FeatureView, ...]
    splits_km: tuple[SplitView, ...]
    splits_mi: tuple[SplitView, ...]
    remarks: tuple[Markup, ...]
    demands: tuple[Markup, ...]
    sample_paces: tuple[Markup, ...]
    land: str  # the course under every stretch
    land_px: float


def render_course(
    course: Course,
    features: Sequence[Feature],
    splits_km: Sequence[Split],
    splits_mi: Sequence[Split],
    demands: CourseDemands,
    remarks: Sequence[Remark],
    *,
    preview: Sequence[PreviewStretch] = (),
    sample_paces_s_per_km: Sequence[float] = (),
    title: str,
    plans: Iterable[Plan] = (),
    rehearsals: Iterable[Rehearsal] = (),
    system: System = "km",
) -> str:
    """The page ``course.html``, of a course file alone or of a block.

    ``sample_paces_s_per_km`` are those the preview's costs were reckoned for, in their order; ``plans``, or
    what was kept of them, tell what the block does about each stretch, without saying whose plan.
    """
    small = land(course, height_px=_STRETCH_PX)
    drills = (*rehearsals, *(session for plan in plans for session in rehearsals_of(plan)))
    return render(
        "course.html",
        page=CourseView(
            frame=course_frame(course, features, title=title, units=system),
            class_words=Markup("{} course. {}").format(
                demands.course_class.capitalize(), words.sentence(demands.class_why)
            ),
            totals=_totals(course),
            notes=tuple(words.sentence(note.text) for note in course.notes if not note.private),
            preview=tuple(_preview(stretch, remarks, drills, small) for stretch in preview),
            features=tuple(_feature(feature) for feature in features),
            splits_km=tuple(_split(split) for split in splits_km),
            splits_mi=tuple(_split(split) for split in splits_mi),
            remarks=tuple(_remark(remark) for remark in sorted(remarks, key=lambda remark: remark.at_m)),
            demands=tuple(words.sentence(demand.why) for demand in demands.demands),
            sample_paces=tuple(words.pace(pace) for pace in sample_paces_s_per_km),
            land=small.closed(0.0, small.finish_m, 600.0),
            land_px=small.depth_px,
        ),
    )


def _totals(course: Course) -> tuple[tuple[str, Markup], ...]:
    length = words.exact_length(course.distance_m)
    if course.certified:
        length = Markup("{}, as measured for the race; the file says {}").format(
            length, words.exact_length(course.measured_m)
        )
    climb = words.plain_height(course.ascent_m)
    if round(course.ascent_low_m) != round(course.ascent_high_m):
        climb = Markup("{} ({} to {})").format(
            climb, words.plain_height(course.ascent_low_m), words.plain_height(course.ascent_high_m)
        )
    if course.climb_uncertain:
        climb = Markup("{}, uncertain").format(climb)
    return (
        ("Length", length),
        ("Climb", climb),
        ("Descent", words.plain_height(course.descent_m)),
        ("Drawn from", Markup("a {} course").format(course.source) if course.known else Markup("no heights")),
    )


@dataclass(frozen=True, slots=True, order=True)
class Rehearsal:
    """A session that rehearses a stretch, whoever runs it."""

    from_m: float
    to_m: float
    title: str
    weeks_before: int  # the race; runners may have begun in different weeks


def rehearsals_of(plan: Plan) -> list[Rehearsal]:
    """Every session of a plan that rehearses a stretch of the course."""
    return [
        Rehearsal(from_m, to_m, session.title, (plan.race.date - week.first_day).days // 7)
        for week in plan.weeks
        for session in week.sessions
        if session.role != "race" and not session.cancelled
        for from_m, to_m in session.rehearses_m
    ]


def _block_does(stretch: PreviewStretch, rehearsals: Sequence[Rehearsal]) -> Markup:
    """Which sessions lie on this stretch for at least half of its length."""
    half = (stretch.to_m - stretch.from_m) / 2
    weeks: dict[str, set[int]] = {}
    for drill in rehearsals:
        if min(drill.to_m, stretch.to_m) - max(drill.from_m, stretch.from_m) >= half:
            weeks.setdefault(drill.title, set()).add(drill.weeks_before)
    return Markup("; ").join(
        Markup("{}, {}").format(title, _weeks_before(numbers)) for title, numbers in sorted(weeks.items())
    )


def _weeks_before(numbers: set[int]) -> str:
    """``6, 4 and 2 weeks before the race``."""
    if numbers == {0}:
        return "in race week"
    *first, last = (str(number) for number in sorted(numbers, reverse=True))
    said = f"{', '.join(first)} and {last}" if first else last
    return f"{said} {'week' if numbers == {1} else 'weeks'} before the race"


def _preview(
    stretch: PreviewStretch, remarks: Sequence[Remark], rehearsals: Sequence[Rehearsal], small: Land
) -> PreviewView:
    return PreviewView(
        name=words.heading(stretch.name),
        where=words.from_to(stretch.from_m, stretch.to_m),
        grade=words.grade(stretch.grade),
        gain=words.height(stretch.gain_m),
        decisive=stretch.decisive,
        marked=small.closed(stretch.from_m, stretch.to_m, 600.0),
        ground=words.sentence(stretch.ground),
        todo=words.sentence(stretch.todo),
        mistake=words.sentence(stretch.mistake),
        costs=tuple(words.seconds_per_unit(cost) for cost in stretch.costs_s_per_km),
        remarks=tuple(_remark(remark) for remark in remarks if stretch.from_m <= remark.at_m < stretch.to_m),
        block_does=_block_does(stretch, rehearsals),
    )


def _feature(feature: Feature) -> FeatureView:
    return FeatureView(
        name=feature.name,
        where=words.from_to(feature.start_m, feature.end_m),
        length=words.length(feature.length_m),
        gain=words.height(feature.gain_m),
        grade=words.grade(feature.grade),
        steepest=words.grade(feature.steepest_grade),
        done=f"{feature.share_done * 100:.0f}\N{NO-BREAK SPACE}%",
        decisive=feature.decisive,
    )


def _split(split: Split) -> SplitView:
    return SplitView(
        number=str(split.number),
        net=words.height(split.net_m),
        up=words.plain_height(split.ascent_m),
        down=words.plain_height(split.descent_m),
        grade=words.grade(split.grade),
        steepest=words.grade(split.steepest_grade),
        words=words.sentence(split.words),
    )


def _remark(remark: Remark) -> Markup:
    return Markup("<b>{}</b> {}").format(words.place(remark.at_m), words.both(remark.text))
