"""Which results count, which are set aside, and what the runner is told about each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from planbuilder.runner.corrections import Corrected, sentence
from planbuilder.runner.models import threshold_speeds_mps
from planbuilder.runner.types import UsedResult
from planbuilder.runner.words import result_words
from planbuilder.settings.limits import Limits
from planbuilder.settings.models import RunnerSettings
from planbuilder.settings.notes import Note


@dataclass(frozen=True, slots=True)
class Choice:
    """The results that count, the nearest to the race first."""

    counted: tuple[Corrected, ...]
    stale: bool  # they are too old to set paces, or from before an injury
    used: tuple[UsedResult, ...]  # every result in the runner's order, with what was made of it
    notes: tuple[Note, ...]

    @property
    def anchor(self) -> UsedResult | None:
        """What was made of the nearest one."""
        return self.used[self.counted[0].place] if self.counted else None


def choose(
    corrected: Sequence[Corrected], runner: RunnerSettings, *, race_distance_m: float, limits: Limits
) -> Choice:
    """Fresh before stale, all-out before hard, near in distance before far, and no slips of the pen."""
    reasons = {one.place: one.problem for one in corrected if one.problem}
    pool = [one for one in corrected if not one.problem]
    stale = bool(pool) and all(is_stale(one, runner, limits) for one in pool)
    if not stale:
        fresh = [one for one in pool if not is_stale(one, runner, limits)]
        pool = _keep(pool, fresh, "a newer result says more", reasons)
    all_out = [one for one in pool if one.result.effort == "all-out"]
    pool = _keep(pool, all_out, "it was not run all-out and another one was", reasons)
    reach = limits.number("runner.result_reach")
    near = [one for one in pool if 1 / reach <= one.result.distance_m / race_distance_m <= reach]
    pool = _keep(pool, near, "a result nearer to this race's distance says more", reasons)
    pool, notes = _without_slips(pool, reasons, limits)
    pool.sort(key=lambda one: _remoteness(one, race_distance_m, limits))
    counted = tuple(pool)
    used = tuple(_used_result(one, counted, reasons, stale) for one in corrected)
    return Choice(counted, stale, used, notes)


def is_stale(one: Corrected, runner: RunnerSettings, limits: Limits) -> bool:
    """Whether a result is too old for paces, or from before an injury that stopped normal training."""
    return one.days_before_block > limits.number("runner.result_age") or before_injury(one, runner, limits)


def before_injury(one: Corrected, runner: RunnerSettings, limits: Limits) -> bool:
    """Whether an injury worth the name began after the result."""
    pain = limits.number("runner.injury_pain")
    return any(
        injury.since is not None
        and injury.since > one.result.date
        and (injury.pain >= pain or injury.limping or injury.cleared is not None)
        for injury in runner.injuries
    )


def flat_result(one: Corrected) -> dict[str, float]:
    """Distance and flat time, as the models take them."""
    return {"distance_m": one.result.distance_m, "time_s": one.flat_time_s}


def _keep(
    pool: list[Corrected], better: list[Corrected], reason: str, reasons: dict[int, str]
) -> list[Corrected]:
    """The better ones where there are any; the others are set aside with the reason."""
    if not better:
        return pool
    reasons.update({one.place: reason for one in pool if one not in better})
    return better


def _without_slips(
    pool: list[Corrected], reasons: dict[int, str], limits: Limits
) -> tuple[list[Corrected], tuple[Note, ...]]:
    """Without results so far from the others that a slip is likely; of two, the slower one stays."""
    if len(pool) < 2:
        return pool, ()
    speeds = {one.place: threshold_speeds_mps(**flat_result(one), limits=limits)[0] for one in pool}
    middle = sorted(speeds.values())[(len(speeds) - 1) // 2]
    doubt = limits.number("runner.typing_doubt")
    believed = [one for one in pool if abs(speeds[one.place] / middle - 1) <= doubt]
    far = [one for one in pool if one not in believed]
    if not far:
        return pool, ()
    names = " and ".join(result_words(one.result.distance_m, one.result.time_s) for one in far)
    note = Note(
        rule="runner.typing_doubt",
        text=f"Your other results do not fit with {names}. Please look at the distance, the time and the "
        "unit; until then the others count.",
        kind="assumed",
    )
    reason = "it lies far from your other results; please look at the distance, the time and the unit"
    return _keep(pool, believed, reason, reasons), (note,)


def _remoteness(one: Corrected, race_distance_m: float, limits: Limits) -> float:
    """How far a result is from the race: doublings of the distance plus age."""
    doublings = abs(math.log2(one.result.distance_m / race_distance_m))
    return doublings + max(one.days_before_block, 0) / limits.number("runner.nearness_days")


def _used_result(
    one: Corrected, counted: tuple[Corrected, ...], reasons: dict[int, str], stale: bool
) -> UsedResult:
    counts = one in counted
    if not counts:
        verdict = f"set aside, because {reasons[one.place]}"
    elif one is counted[0]:
        verdict = (
            "the nearest there is, but it may not say what you can do today"
            if stale
            else "it sets your paces"
        )
    else:
        verdict = "it widens the picture"
    if counts and one.result.effort == "hard":
        verdict += ", though you may have had more in you that day"
    return UsedResult(
        distance_m=one.result.distance_m,
        time_s=one.result.time_s,
        days_before_block=one.days_before_block,
        flat_time_s=one.flat_time_s,
        used=counts,
        words=sentence(one, verdict),
        climb_assumed=one.result.course in ("rolling", "hilly") and one.result.climb_m is None,
    )
