"""Eating and drinking in time and place: published ranges, stations where they are given, thirst for the
rest.

Receives: the run over the course, stations, the foot of the decisive climb.
Gives: intakes in race order and the words on how much. Never a fixed amount of fluid, never a weight.
"""

from __future__ import annotations

from collections.abc import Callable

from planbuilder.course.types import Remark
from planbuilder.race.ladder import CLASSES, race_class
from planbuilder.race.types import Intake
from planbuilder.settings.limits import Limits
from planbuilder.units import in_minutes, place_mark, say_minutes

_PRACTISE = "Practise it in long runs, and take nothing new on the day."
_THIRST = "Drink to thirst, a few mouthfuls at the stations; nobody should gain weight in a race."


def fuel_range(duration_s: float, limits: Limits) -> tuple[float, float]:
    """Grams of carbohydrate an hour, from and to; (0, 0) where nothing is needed."""
    if duration_s <= limits.number("race.fuel_from"):
        return (0.0, 0.0)
    middle_s, long_s = limits.numbers("race.fuel_from_durations")
    if duration_s <= middle_s:
        name = "race.fuel_short"
    else:
        name = "race.fuel_middle" if duration_s <= long_s else "race.fuel_long"
    low, high = limits.numbers(name)
    return (low, high)


def fuelling_words(duration_s: float, limits: Limits) -> str:
    """How much, and how to drink."""
    low, high = fuel_range(duration_s, limits)
    if high == 0:
        return f"Up to about an hour needs nothing on the way; a mouth rinse or sips are fine. {_THIRST}"
    more = (
        " Up to 90 g an hour only from mixed sources and only if practised; less when you run slowly."
        if duration_s > limits.numbers("race.fuel_from_durations")[1]
        else ""
    )
    return f"{low:.0f} to {high:.0f} g of carbohydrate an hour.{more} {_PRACTISE} {_THIRST}"


def care_words(*, distance_m: float, age: int | None, limits: Limits) -> str:
    """Caffeine only as rehearsed, and no anti-inflammatory painkillers. Never a dose."""
    runs = limits.numbers("race.fuel_rehearsed")[CLASSES.index(race_class(distance_m))]
    grown = limits.number("race.caffeine_age")
    if age is not None and age < grown:
        caffeine = f"Under {grown:.0f} no caffeine for a race."
    else:
        caffeine = (
            f"Caffeine only if you tried it in at least {runs:.0f} long runs, and no more than there; never "
            f"under {grown:.0f}, in pregnancy or with a heart rhythm problem."
        )
    hours = limits.number("race.painkiller_free")
    return (
        f"{caffeine} No anti-inflammatory painkillers, such as ibuprofen, in the {hours:.0f} hours before "
        "the race or during it: with hard running they can harm the kidneys and the balance of salt. If one "
        "is prescribed for you, ask whoever prescribed it; pain that asks for one is a reason not to start."
    )


def plan_intakes(
    *,
    duration_s: float,
    place_at: Callable[[float], float],
    clock_at: Callable[[float], float],
    stations: tuple[Remark, ...],
    decisive_m: tuple[float, float] | None,
    has_clock: bool,
    limits: Limits,
) -> tuple[Intake, ...]:
    """Intakes in race order; ``place_at`` and ``clock_at`` go between race clock and place (also where the
    plan itself has no clock: then by an assumed pace), ``decisive_m`` is foot and top of the decisive climb,
    on which nothing is taken."""
    foot_m, top_m = decisive_m or (None, None)
    before_foot_s = None if foot_m is None else clock_at(foot_m)
    dues = intake_times_s(duration_s, before_foot_s, limits)
    if before_foot_s is not None and top_m is not None:
        dues = _off_the_climb(dues, before_foot_s, clock_at(top_m), duration_s, limits)
        stations = tuple(one for one in stations if not (foot_m or 0.0) <= one.at_m < top_m)
    apart_s = 60 * limits.number("race.fuel_apart")
    found: list[Intake] = []
    earliest_s = 0.0
    for number, (clock_s, before_climb) in enumerate(dues):
        latest_s = dues[number + 1][0] - apart_s if number + 1 < len(dues) else duration_s
        near = tuple(one for one in stations if earliest_s <= clock_at(one.at_m) <= latest_s)
        at_m, station = _station_near(clock_s, clock_at, near, before_foot_s, limits)
        if station is None:
            at_m = place_at(clock_s)
        if foot_m is not None and top_m is not None and foot_m <= at_m < top_m:
            at_m = top_m
        earliest_s = clock_at(at_m) + apart_s
        words = "One portion you have practised, with a mouthful of water"
        if station is not None:
            words += f", at the station ({station.text.rstrip('.')})"
        if before_climb and before_foot_s is not None and foot_m is not None:
            early = say_minutes(max(in_minutes(before_foot_s - clock_at(at_m)), 1) * 60)
            words += f"; {early} before the climb at {place_mark(foot_m)}, so that none is needed on it"
        found.append(Intake(at_m, clock_at(at_m) if has_clock else None, words))
    return tuple(found)


_Dues = tuple[tuple[float, bool], ...]  # race clock, and whether it is the one before the decisive climb


def _off_the_climb(dues: _Dues, foot_s: float, top_s: float, duration_s: float, limits: Limits) -> _Dues:
    """The intakes with those due on the climb moved to its top, and no two nearer than they may be."""
    apart_s = 60 * limits.number("race.fuel_apart")
    last_s = duration_s - 60 * limits.number("race.fuel_last")
    taken = [due for due in dues if due[0] < foot_s]
    later = [clock_s for clock_s, _ in dues if clock_s >= foot_s]
    if len(taken) > 1 and taken[-1][0] - taken[-2][0] < apart_s:
        clocks = _spread(taken[0][0], taken[-1][0], len(taken), apart_s)
        taken = [*((clock_s, False) for clock_s in clocks[:-1]), taken[-1]]
    free_s = max(top_s, taken[-1][0] + apart_s) if taken else top_s
    if later and later[0] < free_s:
        if free_s > last_s:
            later = []
        elif len(later) > 1 and later[1] - free_s < apart_s:
            later = _spread(free_s, last_s, len(later), apart_s)
        else:
            later[0] = free_s
    return (*taken, *((clock_s, False) for clock_s in later))


def _spread(first_s: float, last_s: float, most: int, apart_s: float) -> list[float]:
    """So many clocks at even distances, fewer where they would come too near to each other."""
    count = min(most, int((last_s - first_s) // apart_s) + 1)
    if count == 1:
        return [first_s]
    return [first_s + (last_s - first_s) / (count - 1) * i for i in range(count)]


def intake_times_s(duration_s: float, foot_s: float | None, limits: Limits) -> _Dues:
    """Race clocks of the intakes, and whether each is the one before the decisive climb (its foot at
    ``foot_s``)."""
    low, high = fuel_range(duration_s, limits)
    first_s = 60 * limits.number("race.fuel_first")
    last_s = duration_s - 60 * limits.number("race.fuel_last")
    if high == 0 or last_s < first_s:
        return ()
    count = max(round((low + high) / 2 * duration_s / 3600 / limits.number("race.fuel_portion")), 1)
    gap_s = (last_s - first_s) / max(count - 1, 1)
    times = [first_s + gap_s * i for i in range(count)]
    climb_s = None if foot_s is None else foot_s - 60 * limits.number("race.fuel_before_climb")
    if climb_s is None or not first_s * 0.5 <= climb_s <= last_s:
        return tuple((time, False) for time in times)
    nearest = min(range(count), key=lambda i: abs(times[i] - climb_s))
    times[nearest] = climb_s
    return tuple((time, i == nearest) for i, time in enumerate(times))


def _station_near(
    clock_s: float,
    clock_at: Callable[[float], float],
    stations: tuple[Remark, ...],
    foot_s: float | None,
    limits: Limits,
) -> tuple[float, Remark | None]:
    """The station to use: near enough in time, and not between the intake before a climb and the climb's
    top."""
    reach_s = 60 * limits.number("race.fuel_to_station")
    clear_s = 60 * limits.number("race.fuel_clear_of_foot")
    best: Remark | None = None
    best_s = reach_s
    for station in stations:
        there_s = clock_at(station.at_m)
        off_s = abs(there_s - clock_s)
        crosses_foot = foot_s is not None and clock_s < foot_s < there_s + clear_s
        if off_s <= best_s and not crosses_foot:
            best, best_s = station, off_s
    return (0.0 if best is None else best.at_m), best
