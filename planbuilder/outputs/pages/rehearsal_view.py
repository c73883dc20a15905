"""Where to run it: local ground over the race's ground, and the treadmill for those without hills."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.pages import words
from planbuilder.outputs.treadmill_table import HEADER, programme_rows
from planbuilder.plan.local import DemandGround, Match, Profile, Rehearsal, TreadmillProgramme
from planbuilder.units import System

_ACROSS = 1000.0
_HIGH_PX = 48.0
_LEAST_RANGE_M = 20.0  # level ground is not blown up into a hill
_SHOWN = 2  # matches of a stretch that are drawn


@dataclass(frozen=True, slots=True)
class MatchView:
    """A stretch of a local route, drawn over the stretch of the race."""

    where: Markup
    text: Markup
    race: str  # closed path
    here: str  # open path
    high_px: float


@dataclass(frozen=True, slots=True)
class GroundView:
    """One stretch of the race and what stands in for it."""

    name: Markup
    text: Markup
    matches: tuple[MatchView, ...]


@dataclass(frozen=True, slots=True)
class ProgrammeView:
    """A treadmill programme as a table."""

    title: Markup
    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[Markup, ...]


@dataclass(frozen=True, slots=True)
class RehearsalView:
    """Everything under "Where to run it"."""

    grounds: tuple[GroundView, ...]
    programmes: tuple[ProgrammeView, ...]
    choices: tuple[Markup, ...]
    notes: tuple[Markup, ...]


def rehearsal_view(rehearsal: Rehearsal | None, system: System) -> RehearsalView | None:
    """The section, ready to print; None where there is nothing to say."""
    if rehearsal is None:
        return None
    ground = rehearsal.ground
    return RehearsalView(
        grounds=tuple(_ground(found) for found in ground.grounds) if ground else (),
        programmes=tuple(_programme(programme, system) for programme in rehearsal.programmes),
        choices=tuple(
            words.sentence(f"{choice.words} {f'Not rehearsed: {choice.cannot}' if choice.cannot else ''}")
            for choice in rehearsal.choices
        ),
        notes=tuple(words.sentence(note.text) for note in ground.notes if not note.private) if ground else (),
    )


def _ground(found: DemandGround) -> GroundView:
    return GroundView(
        name=words.heading(found.wanted.name),
        text=words.sentence(found.words),
        matches=tuple(_match(match) for match in found.matches[:_SHOWN]),
    )


def _match(match: Match) -> MatchView:
    heights = (*match.wanted.height_m, *match.local.height_m)
    low_m, high_m = min(heights), max(heights)
    px_per_m = _HIGH_PX / max(high_m - low_m, _LEAST_RANGE_M)
    high_px = round((high_m - low_m) * px_per_m + 8.0, 1)
    length_m = max(match.wanted.length_m, match.local.length_m)
    race = _path(match.wanted, length_m, high_m, px_per_m)
    end = match.wanted.length_m / length_m * _ACROSS
    return MatchView(
        where=words.sentence(match.where),
        text=words.sentence(f"{match.words}. {match.dose}".strip()),
        race=f"{race}L{end:.0f} {high_px}L0 {high_px}z",
        here=_path(match.local, length_m, high_m, px_per_m),
        high_px=high_px,
    )


def _path(profile: Profile, length_m: float, high_m: float, px_per_m: float) -> str:
    step = max(1, len(profile.height_m) // 80)
    points = list(enumerate(profile.height_m))
    kept = [*points[::step], *([] if (len(points) - 1) % step == 0 else [points[-1]])]
    return "M" + "L".join(
        f"{index * profile.step_m / length_m * _ACROSS:.0f} {(high_m - height) * px_per_m + 2:.1f}"
        for index, height in kept
    )


def _programme(programme: TreadmillProgramme, system: System) -> ProgrammeView:
    lines = (programme.level_correction, *programme.cannot, *programme.cautions)
    return ProgrammeView(
        title=words.heading(programme.title),
        header=HEADER,
        rows=programme_rows(programme, system),
        lines=tuple(
            words.sentence(line) for line in (*lines, *(note.text for note in programme.notes)) if line
        ),
    )
