"""A club night as a row of stretches, for nights whose stretches differ: sets, ladders, two parts.

The row stands in the order it is run. Each stretch has a kind of session (its effort and its ground), a
length and the recovery behind it; the whistle is the row's, and so the same for all. Who may do less runs
the first stretches of the row, whole sets where sets were typed, and jogs until the last whistle. A stretch
of ten minutes or more may be cut short instead.

Receives: a row, an ``Order``, the library.
Gives: the part of the row that a runner may do, as a ``Draft``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.plan.types import Step
from planbuilder.plan.walk import effort_factor, measure
from planbuilder.rules.doses import round_recovery, whole_minutes
from planbuilder.rules.library import Library, Template
from planbuilder.rules.night_shape import row_words
from planbuilder.rules.orders import Draft, Order, Written
from planbuilder.rules.parts import FLAT, cool_down, doing_words, effort_of, make_step, pace_of, warm_up
from planbuilder.rules.repeats import chosen_ground
from planbuilder.rules.write_session import draft_of, why_not
from planbuilder.runner.types import Level
from planbuilder.settings.limits import Limits
from planbuilder.units import length_mark

_SHARE: Final[dict[Level, float]] = {
    "novice": 0.6,
    "intermediate": 0.8,
    "club": 1.0,
    "advanced": 1.0,
}
_CUT_FROM_S: Final = 600.0
_CUT_TO_S: Final = 300.0
_EASY: Final = ("easy", "none")
FAMILIAR: Final = ("threshold_repeats", "goal_repeats")  # stand in for what would be new to a runner


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of work of a night, and the recovery behind it."""

    template: Template  # effort and ground
    seconds: float
    rest_s: float = 0.0  # 0 behind the last
    rest_words: str = "easy jog"
    ends_set: bool = True  # whether a runner who does less may stop here
    distance_m: float | None = None  # a time trial: everybody takes the time it takes


Row = tuple[Stretch, ...]


def is_easy_kind(template: Template) -> bool:
    """Whether a kind of session is easy running."""
    return template.counts_as in _EASY


def night_share(level: Level) -> float:
    """How much of a night a runner at a level does at most, as a share of those who do most."""
    return _SHARE[level]


def rest_s(template: Template, repeat_s: float) -> float:
    """One recovery of a group where the kind alone says how long it is."""
    if template.recovery_seconds is not None:
        return template.recovery_seconds[1]
    low, high = template.recovery_share or (1.0, 1.0)
    found = round_recovery(repeat_s * (low + high) / 2)
    return found if found >= low * repeat_s else round_recovery(repeat_s * high)


def work_in(row: Sequence[Stretch]) -> float:
    """Seconds of work in a row."""
    return sum(stretch.seconds for stretch in row)


def write_row(
    order: Order, row: Row, library: Library, limits: Limits, *, kind: str, fewest: float
) -> Draft | None:
    """The part of a row that a runner may do, within level and ``work_limit_s`` of the order.

    None where it would be less than the share ``fewest`` of the work of those who do most.
    """
    library = library.with_kinds({one.template.name: one.template for one in row})
    most_s = float("inf") if order.work_limit_s is None else order.work_limit_s
    own = _allowed(order, row, library, limits, most_s)
    if not own or work_in(own) < fewest * work_in(row) - 1:
        return None
    steps = next(
        (
            steps
            for steps in (_written(order, own, limits, short) for short in (False, True))
            if measure(steps, easy_s_per_km=order.paces.easy_s_per_km).work_s <= most_s + 1
        ),
        None,
    )
    if steps is None:
        return None
    kinds = [one.template.name for one in own]
    main = max(own, key=lambda one: one.seconds).template
    titles = list(dict.fromkeys(one.template.title for one in own))
    grounds = (chosen_ground(order, one.template, limits).substitute for one in own)
    written = Written(
        steps=tuple(steps),
        size="" if own[0].distance_m else row_words([(one.seconds, one.rest_s) for one in own]),
        substitute=next((words for words in grounds if words), ""),
    )
    base = kind if kind in kinds else kinds[0]
    draft = draft_of(replace(order, kind=base), main, written, limits)
    return replace(
        draft, title=" and ".join([titles[0], *(name[0].lower() + name[1:] for name in titles[1:])])
    )


def _allowed(order: Order, row: Row, library: Library, limits: Limits, work_s: float) -> Row:
    """As much of the row as health and level allow, each stretch in the form this runner may run."""
    own: list[Stretch] = []
    for stretch in row:
        form = _form(order, stretch.template, library)
        if form is None:
            break
        level = form != stretch.template and "down" in stretch.rest_words
        words = form.recovery_words if level else stretch.rest_words
        own.append(replace(stretch, template=form, rest_words=words))
    if row[0].distance_m is not None:
        return _even(order, tuple(own), row, library, limits)
    return _held(tuple(own), min(night_share(order.level) * work_in(row), work_s))


def _even(order: Order, own: Row, row: Row, library: Library, limits: Limits) -> Row:
    """A trial as hard as it goes only for those who are used to it; for others about as far, evenly, by time.

    By time, because a result of it would say nothing of their form.
    """
    trial = row[0]
    if own and own[0].template.name == trial.template.name and order.level != "novice":
        return own
    even = library.template("threshold_run")
    if trial.distance_m is None or not _may(order, even.name, library):
        return ()
    pace = pace_of(order, even.band, FLAT, limits)
    s_per_km = sum(pace) / 2 if pace else order.paces.easy_s_per_km * effort_factor(sum(even.effort) / 2)
    seconds = min(whole_minutes(trial.distance_m / 1000 * s_per_km), trial.seconds)
    return (replace(trial, template=even, seconds=seconds, distance_m=None),)


def _form(order: Order, template: Template, library: Library) -> Template | None:
    for _ in range(4):
        if is_easy_kind(template):
            return None
        if _may(order, template.name, library):
            return template
        if not template.instead:
            break
        template = library.template(template.instead)
    known = order.known or ()
    name = next((name for name in FAMILIAR if name in known and _may(order, name, library)), "")
    return library.template(name) if name else None


def _may(order: Order, kind: str, library: Library) -> bool:
    """Whether a runner may do a kind, and knows it where nothing may be new."""
    known = order.known is None or kind in order.known
    return known and not why_not(replace(order, kind=kind), library)


def _held(own: Row, most_s: float) -> Row:
    """As much of a row as fits into so many seconds of work: a long stretch is cut short, then the end goes.

    A long stretch before shorter ones gives way to them, and the jog behind it lasts until their whistle.
    """
    own = _with_short(own, most_s)
    kept: list[Stretch] = []
    left_s = most_s
    for stretch in own:
        if stretch.seconds <= left_s + 1:
            kept.append(stretch)
            left_s -= stretch.seconds
            continue
        short_s = whole_minutes(left_s)
        if stretch.seconds >= _CUT_FROM_S and short_s >= _CUT_TO_S:
            kept.append(replace(stretch, seconds=short_s, ends_set=True))
        break
    if len(kept) < len(own):
        last = max((at for at, one in enumerate(kept) if one.ends_set), default=-1)
        kept = kept[: last + 1] or kept  # inside the first set any number will do
    return (*kept[:-1], replace(kept[-1], rest_s=0.0)) if kept else ()


def _with_short(own: Row, most_s: float) -> Row:
    """The row with its long stretches cut as far as needed, where shorter ones follow them."""
    shorter = [at for at, one in enumerate(own) if one.seconds < _CUT_FROM_S]
    found = list(own)
    for at, one in enumerate(own):
        over_s = work_in(found) - most_s
        if one.seconds < _CUT_FROM_S or over_s <= 1 or not shorter or at > shorter[-1]:
            continue
        left_s = max(math.floor((one.seconds - over_s) / 60) * 60.0, _CUT_TO_S)
        found[at] = replace(one, seconds=left_s, rest_s=one.rest_s + one.seconds - left_s)
    return tuple(found)


def _written(order: Order, own: Row, limits: Limits, short: bool) -> list[Step]:
    first, last = own[0].template, own[-1].template
    chosen = chosen_ground(order, first, limits)
    slope = {"slope": chosen.ground} if chosen.ground.kind == "up" and chosen.real else {}
    return [
        *warm_up(order, first, limits, short=short, **slope),
        *_main(order, own, limits),
        *cool_down(order, last, limits, short=short),
    ]


def _main(order: Order, own: Row, limits: Limits) -> list[Step]:
    """Equal stretches with equal recoveries as one set of steps, everything else one after the other."""
    steps: list[Step] = []
    at = set_no = 0
    while at < len(own):
        stretch, alike = own[at], 1
        while at + alike < len(own) and _alike(own[at : at + alike + 1]):
            alike += 1
        set_no += 1
        steps += _repeated(order, stretch, alike, limits, set_no)
        behind = own[at + alike - 1]
        if at + alike < len(own) and behind.rest_s:
            steps.append(_rest(order, behind, limits))
        at += alike
    return steps


def _alike(part: Sequence[Stretch]) -> bool:
    """Whether these stretches are equal, with equal recoveries between them."""
    first, *others = part
    same = all(one.template == first.template and one.seconds == first.seconds for one in others)
    return same and all(
        (one.rest_s, one.rest_words) == (first.rest_s, first.rest_words) for one in others[:-1]
    )


def _repeated(order: Order, stretch: Stretch, count: int, limits: Limits, set_no: int) -> list[Step]:
    template = stretch.template
    chosen = chosen_ground(order, template, limits)
    words = doing_words(order, template, chosen.ground, once=count == 1)
    work = make_step(
        "work",
        stretch.seconds,
        effort_of(order, template),
        words,
        ground=chosen.ground,
        repeat=count,
        pace_s_per_km=pace_of(order, template.band, chosen.ground, limits),
        band=template.band,
        set_no=set_no if count > 1 else 0,
    )
    if stretch.distance_m is not None:
        said = f"{length_mark(stretch.distance_m)}, measured: {words}"
        return [replace(work, duration_s=None, distance_m=stretch.distance_m, words=said)]
    if count == 1:
        return [work]
    return [work, replace(_rest(order, stretch, limits), repeat=count - 1, set_no=set_no)]


def _rest(order: Order, stretch: Stretch, limits: Limits) -> Step:
    chosen = chosen_ground(order, stretch.template, limits)
    words = chosen.back_words or stretch.rest_words
    effort = (1.0, 1.0) if words.startswith("walk") else (1.0, 2.0)
    return make_step("recovery", stretch.rest_s, effort, words, ground=chosen.back)
