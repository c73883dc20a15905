"""After a long break the block drops back: a phase for two weeks and more, to its beginning for four.

Receives: breaks, the weeks as they were laid out.
Gives: the phase of each week still ahead; the taper and the past keep theirs.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final

from planbuilder.plan.types import Phase
from planbuilder.schedule.replan.bounds import LONG, gap_class
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.facts import DAY, Gap
from planbuilder.schedule.replan.types import Situation, Why

_BACK: Final[Mapping[Phase, Phase]] = {"specific": "build", "build": "base", "base": "base"}
_WORDS: Final[Mapping[Phase, str]] = {
    "base": "Back after a break: easy running first.",
    "build": "Back after a break: strength before the work of the race itself.",
}
WHOLE: Final = 4  # from four weeks on


def phases_back(gaps: Sequence[Gap], situation: Situation) -> dict[dt.date, Phase]:
    """By the first day of a week ahead the phase it drops back to."""
    table = situation.request.limits.table("adapt.return_weeks")
    steps = [int(step) for step in situation.request.limits.numbers("adapt.gap_days")]
    found: dict[dt.date, Phase] = {}
    for gap in gaps:
        size = gap_class(gap.days, situation)
        if size < LONG:
            continue
        end = gap.last + 7 * len(table[str(steps[size])]) * DAY
        for week in situation.original:
            back = gap.last < week.last_day and week.first_day <= end
            if back and week.last_day >= situation.today and week.phase in _BACK:
                new: Phase = "base" if size >= WHOLE else _BACK[week.phase]
                if new != week.phase:
                    found[week.first_day] = new
    return found


def drop_back(cuts: Cuts, gaps: Sequence[Gap]) -> None:
    """Let weeks drop back, and make easy what does not belong into the phase they drop to."""
    phases = phases_back(gaps, cuts.situation)
    cuts.draft.in_phases(
        {
            week.first_day: (phases[week.first_day], _WORDS[phases[week.first_day]])
            if week.first_day in phases
            else (week.phase, week.purpose)
            for week in cuts.situation.original
            if week.last_day >= cuts.situation.today
        }
    )
    library = cuts.situation.request.library
    for session in list(cuts.draft.ahead()):
        monday = session.date - session.date.weekday() * DAY
        phase = next((phases[day] for day in phases if day - day.weekday() * DAY == monday), None)
        if phase is None or not session.hard or session.role == "tune_up" or session.id in cuts.draft.held:
            continue
        if phase not in library.template(session.kind).phases:
            why = Why("After a long break this comes later, or not at all in this block.", "adapt.gap_days")
            cuts.put(cuts.easy(session, why), why)
