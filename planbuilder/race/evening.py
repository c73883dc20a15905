"""The evening before and the start line: clock times counted back from this runner's own start.

Receives: race day, zone, wave offset, the length of the race, what the course and the day ask for.
Gives: lines with times in the zone of the race, what to lay out, who should not start.
"""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

from planbuilder.race.ladder import CLASSES, race_class
from planbuilder.race.types import TimedLine
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import Conditions, RaceSettings, RunnerSettings
from planbuilder.units import count_of

_MORNING = range(5, 13)  # hours of a start that comes after a night and a breakfast


def own_start(race: RaceSettings, runner: RunnerSettings) -> dt.datetime:
    """When this runner starts: the gun and the wave offset, in the zone of the race."""
    zone = ZoneInfo(race.timezone)
    gun = dt.datetime.combine(race.date, race.start_time, tzinfo=zone)
    return _shift(gun, runner.start_offset_s or 0.0)


def _shift(moment: dt.datetime, seconds: float) -> dt.datetime:
    """So many seconds later (earlier where negative) by the stopwatch, also across a clock change."""
    return (moment.astimezone(dt.UTC) + dt.timedelta(seconds=seconds)).astimezone(moment.tzinfo)


def evening_sheet(
    *,
    race: RaceSettings,
    runner: RunnerSettings,
    conditions: Conditions | None,
    downhill_start: bool,
    limits: Limits,
    easily: bool = False,
) -> tuple[TimedLine, ...]:
    """What to do when, from the evening meal to the start; ``easily`` where the course is not raced."""
    start = own_start(race, runner)
    minutes = {name: limits.number(f"race.evening_{name}") for name in _NAMES}
    warm_up, warm_up_words = _warm_up(race.distance_m, conditions, downhill_start, limits)
    if easily:
        warm_up_words = f"Warm-up, {warm_up:.0f} minutes: walking and a little easy jogging"
    warm_up_at = minutes["pen"] + warm_up
    there = max(minutes["there"], warm_up_at + minutes["bag"] + minutes["toilet"])
    wake = minutes["breakfast"] + minutes["wake"]
    place = f" ({race.place})" if race.place else ""
    lines = [
        (
            minutes["breakfast"],
            "Breakfast you know: mostly carbohydrate, little fat and fibre; drink to thirst",
        ),
        (
            there + minutes["travel"],
            f"Leave home, if your way takes {minutes['travel']:.0f} minutes; count back your own way instead",
        ),
        (there, f"Be at the start{place}; toilet first"),
        (warm_up_at + minutes["bag"], "Hand in the bag; keep an old top on"),
        (warm_up_at, warm_up_words),
        (
            minutes["pen"],
            "In the pen, at the back" if easily else "In the pen, loose and warm, with people of your pace",
        ),
        (0.0, "Start"),
    ]
    if start.hour in _MORNING:
        lines += [
            (
                minutes["dinner"],
                "Evening meal you know, with extra starch; nothing new, and no alcohol in the last "
                f"{limits.number('race.alcohol_free'):.0f} hours",
            ),
            (
                wake + minutes["sleep"] + minutes["lay_out"],
                "Lay everything out; read the three cues once, then leave the plan alone",
            ),
            (wake + minutes["sleep"], "Lights out; one short night does no harm"),
            (wake, "Get up"),
        ]
    else:
        lines[0] = (
            minutes["breakfast"],
            "Last meal you know: mostly carbohydrate, little fat and fibre; drink to thirst",
        )
    timed = [TimedLine(_shift(start, -60 * before), words) for before, words in lines]
    if start.hour not in _MORNING:
        hour = dt.time(int(limits.number("race.evening_before")) % 24, tzinfo=start.tzinfo)
        evening = dt.datetime.combine(start.date() - dt.timedelta(days=1), hour)
        timed.append(TimedLine(evening, "Lay everything out; eat as usual, and sleep as usual"))
    return tuple(sorted(timed, key=lambda line: line.when.astimezone(dt.UTC)))


_NAMES = ("dinner", "sleep", "lay_out", "wake", "breakfast", "there", "toilet", "travel", "bag", "pen")


def _warm_up(
    distance_m: float, conditions: Conditions | None, downhill_start: bool, limits: Limits
) -> tuple[float, str]:
    """Minutes and words."""
    kind = race_class(distance_m)
    minutes = limits.numbers("race.warm_up")[CLASSES.index(kind)]
    content = {
        "5k": "easy jogging, drills, 4 to 6 strides",
        "10k": "easy jogging, then 4 strides",
        "half": "easy jogging, then 2 to 4 strides",
        "marathon": "walking and a little jogging; none if you expect more than four hours",
    }[kind]
    temperature = None if conditions is None else conditions.temperature_c
    hot = temperature is not None and temperature > limits.number("race.warm_up_hot")
    if hot:
        minutes = round(minutes * limits.number("race.warm_up_hot_share"))
        content += "; shorter than usual because of the heat, in the shade, with a cold drink"
    if downhill_start and kind != "marathon":
        content += "; add 2 relaxed strides downhill and 10 slow squats for the start"
    minutes = max(minutes, limits.number("race.warm_up_least"))
    return minutes, f"Warm-up, {minutes:.0f} minutes: {content}"


def lay_out_list(
    *,
    intakes: int,
    conditions: Conditions | None,
    race: RaceSettings,
    limits: Limits,
    has_splits: bool = True,
) -> tuple[str, ...]:
    """What to lay out the evening before; splits only where there are any to carry."""
    items = [
        "number and four pins, or belt; chip if it is separate",
        "shoes and socks of the long runs, nothing new",
        "race kit; plaster or grease where it rubs",
        "the race card, and the splits for the wrist" if has_splits else "the race card",
        "watch, charged; trust the markers: a watch reads half to one per cent long",
        "old top for the pen, dry clothes for afterwards",
        "breakfast, and the way to the start with a spare half hour",
    ]
    if intakes:
        items.insert(
            4,
            f"{count_of(intakes, 'portion')} of what you practised"
            + (" and one spare" if intakes > 1 else ""),
        )
    temperature = None if conditions is None else conditions.temperature_c
    if temperature is not None and temperature > limits.number("race.warm_up_hot"):
        items.append("cap, sun cream, water for the head")
    elif temperature is not None and temperature < limits.number("race.cold_kit"):
        items.append("gloves and hat")
    items.append(f"a name and a number to call on the back of the race number ({race.name})")
    return tuple(items)


def do_not_start(limits: Limits) -> tuple[str, ...]:
    """Who should not start: ask a professional, race another day."""
    pain = limits.number("race.pain_no_start")
    return (
        "a fever now or in the last days",
        "any chest pain, fainting, or breathlessness that is not like you",
        "a limp",
        f"pain of {pain:g} or more of 10 when jogging",
        "If any of these is true: do not start. Ask a doctor, physiotherapist or other licensed "
        "practitioner, and race another day. General guidance, not medical advice; follow the organiser "
        "and local rules.",
    )
