"""The rules over a plan that is changed: what they find too much is taken away, the rest is told.

Receives: the ``Cuts`` of a draft.
Gives: the draft under the rules, and the findings that only a person can mend.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Final

from planbuilder.plan.types import Week
from planbuilder.rules import check, week_findings
from planbuilder.rules.checks_growth import Rise, held, near_caps
from planbuilder.rules.checks_load import (
    climb_cap,
    climb_of,
    easy_share_least,
    level_before,
    loaded_before,
    longest_before,
    peak_cap,
    rise_cap,
    single_run_cap_m,
    two_week_cap,
    work_cap,
)
from planbuilder.rules.checks_rhythm import way_back_cap
from planbuilder.rules.checks_taper import taper_range
from planbuilder.rules.checks_trips import way_home_cap, way_home_long_cap
from planbuilder.rules.context import Breach, up_to_race
from planbuilder.schedule.replan.cuts import Cuts
from planbuilder.schedule.replan.edits import moved_nights
from planbuilder.schedule.replan.types import Why

ROUNDS: Final = 60  # more than a week could ever need
TOO_LITTLE: Final = ("load.recovery_share", "taper.shares", "load.first_week", "taper.frequency")
LOAD_RULES: Final = (
    "load.weekly_rise",
    "load.two_week_ceiling",
    "load.peak",
    "load.way_back",
    "load.way_home",
    "load.recovery_share",
)
OF_A_DAY: Final = ("day.one_run_a_day", "day.club_nights", "day.rest", "day.away", "tune_up.effort")
WORK_RULES: Final = ("load.work_rise", "load.easy_share", "load.easy_share_block")
OF_HOME: Final = {
    "day.home_easy": "The first run behind days away with hardly a run is easy.",
    "load.way_home_long": "Behind weeks away the long run begins shorter and grows again from there.",
}
RULE_WHY: Final = "The load that was really run sets what comes next"
NIGHT_WHY: Final = "With a changed club night this keeps its week and those behind it within the rules"


def newly_broken(before: Cuts, after: Cuts) -> tuple[Breach, ...]:
    """The limits that are broken from today on after a change and held before it."""
    known = {one.text for one in Keeper(before).breaches()}
    return tuple(one for one in Keeper(after).breaches() if one.text not in known)


class Keeper:
    """Keeps the rules."""

    def __init__(self, cuts: Cuts, words: str = RULE_WHY) -> None:
        self._words = words
        self._cuts, self._situation, self._draft = cuts, cuts.situation, cuts.draft
        self._facts, self._context = cuts.facts, cuts.context
        share = cuts.situation.request.limits.numbers("adapt.least")[1]
        self._least_s, self._least_week_m = cuts.least_s, share * cuts.context.baseline.weekly_m

    def keep_rules(self) -> None:
        """Week after week, what the rules find is mended by taking away."""
        for index, week in enumerate(up_to_race(self._draft.weeks)):
            if week.last_day < self._situation.today:
                continue
            passed: set[tuple[str, str | None, dt.date | None]] = set()
            for _ in range(ROUNDS):
                found = next(
                    (one for one in self._findings(index) if (one.rule, one.session, one.date) not in passed),
                    None,
                )
                if found is None:
                    break
                if not self._mend(found, index):
                    passed.add((found.rule, found.session, found.date))

    def _findings(self, index: int) -> list[Breach]:
        weeks = self._facts.as_run(self._draft.weeks)
        found = week_findings(weeks, index, self._context)
        return [one for one in found if not one.excepted and not self._allowed(one, weeks)]

    def breaches(self) -> tuple[Breach, ...]:
        """What the rules still find from today on."""
        weeks = self._facts.as_run(self._draft.weeks)
        today = self._situation.today
        return tuple(
            found
            for found in check(weeks, self._context)
            if not self._allowed(found, weeks)
            and (found.date is None or found.date >= today or self._reaches(found, weeks))
        )

    def _reaches(self, found: Breach, weeks: Sequence[Week]) -> bool:
        """Whether what is found of a whole week still reaches days that can change."""
        return (
            found.session is None
            and found.rule not in OF_A_DAY
            and any(week.first_day == found.date and week.last_day >= self._situation.today for week in weeks)
        )

    def _allowed(self, found: Breach, weeks: Sequence[Week]) -> bool:
        """Too little is no breach, nor a small start after a break, nor what the past alone holds."""
        week = next((one for one in weeks if found.date is not None and found.date <= one.last_day), None)
        if found.session is not None:
            session = self._draft.session(found.session)
            if session is None or session.date < self._situation.today:
                return True
            short = session.duration_s <= self._least_s + 1
            return short and found.rule in ("load.single_run_cap", "load.long_share", "load.way_home_long")
        if week is None:
            return False
        if found.rule in OF_A_DAY and found.date is not None:
            moved = found.rule == "day.club_nights" and found.date in moved_nights(self._situation)
            return moved or found.date < self._situation.today
        if found.rule == "load.recovery_share" and not self._is_recovery(week):
            return True
        ahead = [one for one in self._draft.ahead() if week.first_day <= one.date <= week.last_day]
        if found.rule in WORK_RULES:
            return not any(one.work_s > 0 for one in ahead)
        if found.rule == "load.one_thing":
            return not ahead or week.distance_m <= self._least_week_m + 1
        if found.rule not in LOAD_RULES and found.rule not in TOO_LITTLE:
            return False
        if not ahead and week.first_day < self._situation.today:
            return True
        return week.distance_m <= self._most_m(found.rule, weeks, weeks.index(week)) + 1

    def _is_recovery(self, week: Week) -> bool:
        """Whether a week was laid out to be one: what is lost makes a week light, not one of recovery."""
        return any(one.recovery for one in self._draft.weeks if one.first_day == week.first_day)

    def _most_m(self, rule: str, weeks: Sequence[Week], index: int) -> float:
        """The most metres that a rule leaves to a week; after a break never less than a small start."""
        return max(self._cap_m(rule, weeks, index), self._least_week_m)

    def _cap_m(self, rule: str, weeks: Sequence[Week], index: int) -> float:
        context = self._context
        if rule == "taper.shares":
            return taper_range(weeks, index, context)[1]
        if rule == "load.recovery_share":
            before = loaded_before(weeks, index, context)
            level = before[-1].distance_m if before else context.baseline.weekly_m
            return context.limits.numbers("load.recovery_share")[1] * level
        if rule == "load.first_week":
            return context.limits.numbers("load.first_week")[1] * context.baseline.weekly_m
        if rule == "taper.frequency":
            return float("inf")
        caps = {
            "load.weekly_rise": lambda: rise_cap(level_before(weeks, index, context), context),
            "load.two_week_ceiling": lambda: two_week_cap(weeks, index, context),
            "load.way_back": lambda: way_back_cap(weeks, index, context),
            "load.way_home": lambda: way_home_cap(weeks, index, context),
            "load.peak": lambda: max(peak_cap(weeks, index, context), context.baseline.weekly_m),
        }
        return caps[rule]()

    def _mend(self, found: Breach, index: int) -> bool:
        """Take away what a rule finds too much; True where that changed anything."""
        weeks = self._facts.as_run(self._draft.weeks)
        week, why = weeks[index], Why(OF_HOME.get(found.rule, f"{self._words}."), found.rule)
        if found.rule in LOAD_RULES or found.rule in ("taper.shares", "load.first_week"):
            most = self._most_m(found.rule, weeks, index)
            return self._cuts.fit(week.first_day, week.last_day, most, why)
        if found.rule in WORK_RULES:
            return self._less_of_week(week, self._work_most(found.rule, weeks, index), why)
        if found.rule == "load.climb_rise":
            return self._flatter(week, climb_cap(weeks, index, self._context), why)
        if found.rule == "load.one_thing":
            near = near_caps(weeks, index, self._context)
            return any(self._hold(week, rise, why) for rise in reversed(near))
        if found.rule == "day.rest" and found.date is not None:
            return self._cuts.rest(found.date)
        session = self._draft.session(found.session) if found.session else None
        if session is None and found.rule == "load.long_share":
            return False
        if session is None or session.id in self._draft.held:
            return False
        if found.rule == "load.single_run_cap":
            longest = longest_before(weeks, index, self._context, session.date)
            return self._cuts.put(
                self._cuts.to_metres(session, why, single_run_cap_m(longest, self._context)), why
            )
        if found.rule == "load.way_home_long":
            most = way_home_long_cap(weeks, index, self._context)
            return self._cuts.put(self._cuts.no_farther(session, why, most), why)
        if found.rule == "taper.touch":
            most_s = self._context.limits.number("taper.touch_longest") * 60
            return self._cuts.put(self._cuts.shorter(session, why, most_s), why)
        if found.rule == "load.long_share":
            most = self._context.limits.number("load.long_share") * week.distance_m
            return self._cuts.put(self._cuts.no_farther(session, why, most * 0.99), why)
        return self._cuts.put(self._cuts.easy(session, why), why)

    def _hold(self, week: Week, rise: Rise, why: Why) -> bool:
        """Keep one thing below its cap, where another one is near its own."""
        most = held(rise.before, rise.cap, self._context)
        if rise.thing == "climbing":
            return self._flatter(week, most, why)
        if rise.thing == "work":
            return self._less_of_week(week, most, why)
        if rise.thing == "weekly distance":
            return self._cuts.fit(week.first_day, week.last_day, max(most, self._least_week_m), why)
        inside = (one for one in self._draft.ahead() if week.first_day <= one.date <= week.last_day)
        long = next((one for one in inside if one.role == "long"), None)
        if long is None or long.id in self._draft.held:
            return False
        return self._cuts.put(self._cuts.no_farther(long, why, most), why)

    def _work_most(self, rule: str, weeks: Sequence[Week], index: int) -> float:
        week = weeks[index]
        if rule == "load.work_rise":
            return work_cap(weeks, index, self._context)
        return week.duration_s * (1 - easy_share_least(week, self._context)) * 0.98

    def _less_of_week(self, week: Week, most_s: float, why: Why) -> bool:
        spare = week.work_s - most_s
        return self._cuts.take(week, lambda one: one.work_s, spare, why)

    def _flatter(self, week: Week, most_m: float, why: Why) -> bool:
        climbed = climb_of(week, self._context)
        return self._cuts.take(week, lambda one: one.climb_m, climbed - most_m, why)
