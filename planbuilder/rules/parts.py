"""The parts that sessions share: steps, paces, warm-ups, cool-downs.

Receives: an ``Order`` and a ``Template``.
Gives: ``Step``s.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Final

from planbuilder.plan.types import Ground, Step, StepKind
from planbuilder.plan.walk import effort_factor, grade_factor
from planbuilder.rules.library import Template
from planbuilder.rules.orders import Order
from planbuilder.settings.limits import Limits
from planbuilder.settings.session_models import BandName, RaceKind
from planbuilder.units import say_minutes

ANY: Final = Ground("any")
FLAT: Final = Ground("flat", 0.0)
ROLLING: Final = Ground("rolling")

EASY_RPE: Final = (2.0, 3.0)
WALK_RPE: Final = (1.0, 1.0)
JOG_RPE: Final = (1.0, 2.0)
STRIDE_RPE: Final = (6.0, 7.0)

_OF_SEVERAL: Final = re.compile(r"\b(each|one|ones|repeat|from first|in the first,)\b")
_WARM_UP_SET: Final = 90  # set of the strides in a warm-up, apart from those of the main part


def make_step(
    kind: StepKind,
    duration_s: float,
    effort_rpe: tuple[float, float],
    words: str,
    *,
    ground: Ground = ANY,
    repeat: int = 1,
    pace_s_per_km: tuple[float, float] | None = None,
    band: str = "",
    set_no: int = 0,
) -> Step:
    """A step dosed in time; its words begin with the time of one repeat."""
    return Step(
        kind=kind,
        repeat=repeat,
        duration_s=duration_s,
        distance_m=None,
        effort_rpe=effort_rpe,
        pace_s_per_km=pace_s_per_km,
        ground=ground,
        words=f"{say_minutes(duration_s)} {words}".strip(),
        set_no=set_no,
        band=band,
    )


def race_kind(distance_m: float) -> RaceKind:
    """The race distance that a dose is meant for.

    >>> race_kind(16093), race_kind(21097.5)
    ('half marathon', 'half marathon')
    """
    if distance_m < 7500:
        return "5 km"
    if distance_m < 15000:
        return "10 km"
    return "half marathon" if distance_m < 30000 else "marathon"


_PREDICTED: Final[dict[RaceKind, BandName]] = {
    "5 km": "intervals",
    "10 km": "10 km effort",
    "half marathon": "half-marathon effort",
    "marathon": "marathon effort",
}
_RACE_RPE: Final[dict[RaceKind, float]] = {
    "5 km": 8.5,
    "10 km": 8.0,
    "half marathon": 6.5,
    "marathon": 5.5,
}


def pace_of(order: Order, band: str, ground: Ground, limits: Limits) -> tuple[float, float] | None:
    """The pace band of a step, quick end first; None where it is run by effort or on a slope."""
    if not band or ground.kind == "rolling" or (ground.kind == "any" and band == "race effort"):
        return None
    if abs(ground.grade or 0.0) > limits.number("session.pace_grade") / 100:
        return None
    name: BandName = band  # type: ignore[assignment]  # the library allows names of bands only
    if band == "race effort" and not order.goal_pace:
        name = _PREDICTED[race_kind(order.course.distance_m)]
    found = order.paces.band(name)
    if found.fast_s_per_km is None or found.slow_s_per_km is None:
        return None
    slope = grade_factor(ground.grade or 0.0)
    return found.fast_s_per_km * slope, found.slow_s_per_km * slope


def lasting(step: Step, duration_s: float) -> Step:
    """The step with another time for one repeat, in its words too where they begin with it."""
    before = say_minutes(step.duration_s or 0.0)
    words = step.words
    if words.startswith(f"{before} "):
        words = f"{say_minutes(duration_s)}{words[len(before) :]}"
    return replace(step, duration_s=duration_s, words=words)


def doing_words(order: Order, template: Template, ground: Ground, *, once: bool = False) -> str:
    """What the main part is: "up a hill of about 4.5 %, same effort bottom to top"."""
    what = on_ground(template.doing, ground)
    if template.doing == "up" and ground.kind == "flat":
        return f"{what}, at the effort of the climb"
    return ", ".join(part for part in (what, cue_of(order, template, once=once)) if part)


def on_ground(doing: str, ground: Ground) -> str:
    """What is done, and where: "up a hill of about 4.5 %", "uphill on a treadmill at 5 %".

    >>> on_ground("up", Ground("treadmill", 0.05, "a treadmill at 5 %"))
    'uphill on a treadmill at 5 %'
    """
    if doing in ("up", "down"):
        if ground.kind == doing and ground.words:
            return f"{doing} {ground.words}"
        doing = "strong" if ground.kind == "flat" else f"{doing}hill"
    return f"{doing} on {ground.words}" if ground.words else doing


def cue_of(order: Order, template: Template, *, once: bool = False) -> str:
    """What to think of this time; ``once``: where nothing is repeated, nothing that compares repeats."""
    cues = (template.cue, *template.focus)
    turn = (order.occurrence - 1) % len(template.focus) + 1 if template.focus and order.occurrence else 0
    in_turn = (*cues[turn:], *cues[:turn])
    fitting = [cue for cue in in_turn if not (once and _OF_SEVERAL.search(cue))]
    return fitting[0] if fitting else ""


def race_pace_s_per_km(order: Order, grade: float = 0.0) -> float:
    """Seconds per kilometre to reckon with at race effort on a slope; never printed."""
    kind = race_kind(order.course.distance_m)
    band = order.paces.band("race effort" if order.goal_pace else _PREDICTED[kind])
    if band.fast_s_per_km is None or band.slow_s_per_km is None:
        level = order.paces.easy_s_per_km * effort_factor(_RACE_RPE[kind])
    else:
        level = (band.fast_s_per_km + band.slow_s_per_km) / 2
    return level * grade_factor(grade)


def race_time_s(order: Order) -> float:
    """Seconds expected for the goal race."""
    return order.race_time_s or race_pace_s_per_km(order) * order.course.distance_m / 1000


def _drills(order: Order) -> Step:
    if order.banned & {"hops", "fast"}:
        return make_step(
            "drills", 180, EASY_RPE, "of walking drills: ankles, knees up, slow kicks", ground=ANY
        )
    return make_step("drills", 180, EASY_RPE, "of drills: skips, high knees, heel flicks, relaxed")


def strides_allowed(order: Order) -> bool:
    """Whether strides may stand in a session."""
    return not order.banned & {"fast"}


def warm_up(
    order: Order, template: Template, limits: Limits, *, slope: Ground = FLAT, short: bool = False
) -> tuple[Step, ...]:
    """The warm-up that a kind asks for; ``short`` is its shortest form."""
    minutes = limits.number("session.warm_up")
    if not short:
        minutes = max(minutes, float(limits.table("session.usual_warm_up")[order.level]))
    match template.warm_up:
        case "none":
            return ()
        case "easy":
            return (make_step("warm_up", minutes * 60, EASY_RPE, "easy, whole sentences"),)
        case "downhill":
            longer = max(minutes, 15)
            easy = make_step("warm_up", longer * 60, EASY_RPE, "easy, the last minutes towards the slope")
            if not strides_allowed(order):
                return easy, _drills(order)
            how = "relaxed downhill, the first at half effort"
            run = make_step("strides", 15, (4.0, 4.0), how, ground=slope, repeat=3, set_no=_WARM_UP_SET)
            back = make_step("recovery", 45, WALK_RPE, "walk back up", repeat=3, set_no=_WARM_UP_SET)
            return easy, _drills(order), run, back
        case "hill" if slope.kind == "up":
            words = "easy, the last few on a gentle slope"
            count, seconds, up = 2, 15, "uphill, relaxed and quick"
        case _:
            words, seconds, up = "easy, whole sentences", 15, "stride, smooth"
            count = int(limits.table("session.warm_up_strides")[order.level])
    easy = make_step("warm_up", minutes * 60, EASY_RPE, words)
    if short or not strides_allowed(order):
        return (easy,) if short else (easy, _drills(order))
    run = make_step("strides", seconds, STRIDE_RPE, up, ground=slope, repeat=count, set_no=_WARM_UP_SET)
    back = make_step("recovery", 45, WALK_RPE, "walk back", repeat=count, set_no=_WARM_UP_SET)
    return easy, _drills(order), run, back


def cool_down(order: Order, template: Template, limits: Limits, *, short: bool = False) -> tuple[Step, ...]:
    """The cool-down that a kind asks for, on the flat after hills."""
    if template.cool_down == "none":
        return ()
    minutes = limits.number("session.cool_down")
    if not short and template.cool_down != "short":
        minutes = max(minutes, float(limits.table("session.usual_cool_down")[order.level]))
    flat = template.ground in ("up", "down", "drag")
    words = "easy on the flat, walk the last minute" if flat else "easy, walk the last minute"
    return (make_step("cool_down", minutes * 60, JOG_RPE, words, ground=FLAT if flat else ANY),)


def once_title(title: str) -> str:
    """The title of repeats of which there is only one.

    >>> once_title("Threshold repeats"), once_title("Repeats at 10 km effort")
    ('Threshold run', 'Run at 10 km effort')
    """
    return title.replace("Repeats ", "Run ").replace(" repeats", " run")


def effort_of(order: Order, template: Template) -> tuple[float, float]:
    """RPE of the main part: that of the goal race where the kind has such, else that of the phase."""
    if template.band == "race effort" and order.finish_rpe is not None:
        return order.finish_rpe
    dose = template.races.get(race_kind(order.course.distance_m))
    return dose.effort if dose is not None else template.effort_by_phase.get(order.phase, template.effort)


def dose_of(order: Order, template: Template) -> tuple[float, float]:
    """Where in the dose range this session stands at first, and what each time adds."""
    if order.dose is not None:
        return min(max(order.dose, 0.0), 1.0), 0.0
    return template.dose.get(order.phase, 0.5), template.grows


def grown_s(order: Order, template: Template, low_min: float, high_min: float) -> float:
    """Seconds of a part in one piece: a minute more each time at least; at the top it goes back one step."""
    start, grows = dose_of(order, template)
    span_s = (high_min - low_min) * 60
    step_s = max(grows * span_s, 60.0) if grows else 0.0
    wanted_s = start * span_s + step_s * order.occurrence
    if step_s and wanted_s >= span_s + step_s and int((wanted_s - span_s) / step_s) % 2:
        wanted_s = span_s - step_s
    return low_min * 60 + min(max(wanted_s, 0.0), span_s)


def minutes_of(order: Order, template: Template) -> float:
    """Seconds of a session that is dosed as a whole: as ordered, else by level, phase and occurrence."""
    if order.duration_s is not None:
        return order.duration_s
    if template.minutes is None:
        raise ValueError(f"{template.name} has no length of its own; the order must give one")
    low, high = template.minutes.of(order.level)
    return grown_s(order, template, low, high)
