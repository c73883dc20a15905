"""The whole way: a block folder in, plans out.

    block folder -> course -> demands -> runner (form, paces) -> race (race plan)
                 -> schedule (phases, load, sessions, days; under rules) -> plan -> outputs

Receives: a block.
Gives: plans, one after the other, and the limits they break.

Everything here is a plain call into one room; what a step does is written in that room. ``prepared`` reads
what all plans are made from, ``plans`` makes them, ``rehearsal`` looks for ground like that of the course.
"""

from __future__ import annotations

from planbuilder.pipeline.plans import (
    PlanNow,
    Told,
    breaches_of,
    check_block,
    news_on,
    plan_all,
    plan_from,
    plan_now,
    plan_race_day,
    plans_now,
    situation_on,
    start_notes,
)
from planbuilder.pipeline.prepared import Prepared, prepare, request_for, with_nights
from planbuilder.pipeline.rehearsal import rehearse_block

__all__ = [
    "PlanNow",
    "Prepared",
    "Told",
    "breaches_of",
    "check_block",
    "news_on",
    "plan_all",
    "plan_from",
    "plan_now",
    "plan_race_day",
    "plans_now",
    "prepare",
    "rehearse_block",
    "request_for",
    "situation_on",
    "start_notes",
    "with_nights",
]
