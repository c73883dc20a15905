"""What ``planbuilder rehearse`` prints: local ground, treadmill programmes and second choices."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np

from planbuilder.outputs.json_files import SCHEMA_VERSION
from planbuilder.outputs.terminal import columns, wrapped
from planbuilder.outputs.treadmill_table import HEADER, programme_rows
from planbuilder.plan.local import DemandGround, LocalGround, Match, Profile, Rehearsal
from planbuilder.units import System, count_of, say_grade, say_height, say_in, say_length

_BLOCKS: Final = "▁▂▃▄▅▆▇█"
_PICTURE: Final = 60


def ground_text(ground: LocalGround, *, system: System, width: int, plain: bool) -> str:
    """Each stretch of the race with what resembles it here, closest first, both profiles under each other."""
    parts = [f"{count_of(ground.routes, 'route')} searched\n"]
    for found in ground.grounds:
        parts.append("\n" + wrapped(f"{found.wanted.name}: {say_in(found.words, system)}", width))
        for match in found.matches:
            parts.append(wrapped(_match(match, system), width, "  "))
            if not plain:
                parts.append(_pictures(match))
    for note in ground.notes:
        parts.append("\n" + wrapped(say_in(note.text, system), width))
    return "".join(parts)


def rehearsal_text(rehearsal: Rehearsal, *, system: System, width: int) -> str:
    """The treadmill programme minute by minute, what it cannot rehearse, and the second choices."""
    parts: list[str] = []
    for programme in rehearsal.programmes:
        parts.append(f"\n{programme.title}\n")
        parts.append(columns(HEADER, programme_rows(programme, system)))
        words = (programme.level_correction, *programme.cannot, *programme.cautions)
        parts += [wrapped(say_in(text, system), width, "  ") for text in words if text]
        parts += [wrapped(say_in(note.text, system), width, "  ") for note in programme.notes]
    if rehearsal.choices:
        parts.append("\nSecond choices, best first\n")
    for choice in rehearsal.choices:
        lost = f" Not rehearsed: {choice.cannot}" if choice.cannot else ""
        parts.append(wrapped(say_in(f"{choice.kind}: {choice.words}{lost}", system), width, "  "))
    return "".join(parts)


def _match(match: Match, system: System) -> str:
    local = match.local
    size = (
        f"{say_length(local.length_m, system)}, up {say_height(local.ascent_m, system)}, "
        f"mean {say_grade(local.grade)}"
    )
    dose = f" {say_in(match.dose, system)}" if match.dose else ""
    return (
        f"{say_in(match.where, system)} ({size}): {say_in(match.words, system)}; "
        f"cost differs by {match.rms_cost:.0%}.{dose}"
    )


def _pictures(match: Match) -> str:
    top = max(*match.wanted.height_m, *match.local.height_m)
    low = min(*match.wanted.height_m, *match.local.height_m)
    return f"    race {_line(match.wanted, low, top)}\n    here {_line(match.local, low, top)}\n"


def _line(profile: Profile, low: float, top: float) -> str:
    heights = np.interp(
        np.linspace(0, 1, _PICTURE), np.linspace(0, 1, len(profile.height_m)), profile.height_m
    )
    steps = (heights - low) / max(top - low, 1e-9) * (len(_BLOCKS) - 1)
    return "".join(_BLOCKS[round(float(step))] for step in steps)


def rehearse_json(
    ground: LocalGround | None, runners: Iterable[tuple[str, Rehearsal, System]]
) -> dict[str, Any]:
    """What ``planbuilder rehearse --json`` prints: names, distances and relative heights, no coordinates."""
    return {
        "version": SCHEMA_VERSION,
        "grounds": [] if ground is None else [_ground(found) for found in ground.grounds],
        "runners": [
            {
                "key": key,
                "programmes": [
                    {
                        "title": programme.title,
                        "header": list(HEADER),
                        "rows": [list(row) for row in programme_rows(programme, system)],
                        "cannot": [say_in(text, system) for text in programme.cannot],
                    }
                    for programme in rehearsal.programmes
                ],
                "second_choices": [
                    {
                        "kind": choice.kind,
                        "words": say_in(choice.words, system),
                        "cannot": say_in(choice.cannot, system),
                    }
                    for choice in rehearsal.choices
                ],
            }
            for key, rehearsal, system in runners
        ],
    }


def _ground(found: DemandGround) -> dict[str, Any]:
    return {
        "kind": found.wanted.kind,
        "name": found.wanted.name,
        "start_m": round(found.wanted.start_m, 1),
        "end_m": round(found.wanted.end_m, 1),
        "found": found.found,
        "words": say_in(found.words, "km"),
        "matches": [
            {
                "route": match.route,
                "from_m": round(match.from_m, 1),
                "to_m": round(match.to_m, 1),
                "direction": match.direction,
                "manner": match.manner,
                "laps": match.laps,
                "rms_cost_percent": round(match.rms_cost * 100, 2),
                "resembles": match.resembles,
                "where": say_in(match.where, "km"),
                "words": say_in(match.words, "km"),
                "local_height_m": _heights(match.local.height_m),
                "wanted_height_m": _heights(match.wanted.height_m),
            }
            for match in found.matches
        ],
    }


def _heights(heights: Sequence[float]) -> list[float]:
    return [round(height, 1) for height in heights]
