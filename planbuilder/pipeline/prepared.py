"""What every plan of a block is made from: the ground, the records, the club nights, the request of a runner.

Receives: a block.
Gives: ``Prepared``, and from it what the schedule is asked for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planbuilder.block import Block, BlockRunner
from planbuilder.block.history import Basis
from planbuilder.block.living import Records, read_records
from planbuilder.block.survey import Survey, other_courses, survey
from planbuilder.race import Aim, RacePlan, finish_effort, plan_race
from planbuilder.rules.safety import allowed_for
from planbuilder.runner import find_form, find_paces, level_of, predict, trusted_volume
from planbuilder.runner.new_results import with_factor
from planbuilder.runner.types import Form
from planbuilder.schedule import (
    Kin,
    Request,
    Schedule,
    Voice,
    kin_of,
    nights_of,
    propose_nights,
    rule_context,
)
from planbuilder.settings.models import Conditions, Result


@dataclass(frozen=True)
class Settled:
    """What was asked for a runner when the club nights were thought of, and the weeks that came of it."""

    request: Request
    schedule: Schedule


@dataclass(frozen=True)
class Prepared:
    """What every plan of a block is made from."""

    block: Block  # under the key it was first accepted with, with a session for every club night
    ground: Survey
    records: Records
    settled: Mapping[str, Settled]  # by runner, of those for whom the weeks stand already

    def settled_for(self, runner: BlockRunner) -> Settled | None:
        """The weeks that stand for a runner who is as the block says."""
        found = self.settled.get(runner.key)
        return found if found is not None and found.request.runner == runner.settings else None


_BY_EFFORT: Final = "by effort, as in the last third of a race that is run for finishing well"
UNTOLD = Basis()  # of a plan that nothing was told of yet


def request_for(
    block: Block,
    ground: Survey,
    runner: BlockRunner,
    basis: Basis = UNTOLD,
    *,
    goal_time_s: float | None = None,
    conditions: Conditions | None = None,
    days_lost: int = 0,
    walks: bool = False,
) -> Request:
    """What the schedule is asked for: form, paces and race plan of one runner.

    ``goal_time_s`` and ``conditions`` stand in for those of the block file; ``basis`` is what results since
    then made of form, ``days_lost`` are those of a long break since the results; ``walks`` is for a runner
    whose long runs stay too short to race on.
    """
    race, limits, who = block.settings.race, block.limits, runner.settings
    first_day = block.begins(who)
    since = basis.source.result if basis.source is not None else None
    form = with_factor(form_of(block, ground, runner, since), basis.time_factor)
    prediction = predict(
        form,
        distance_m=race.distance_m,
        weekly_distance_m=trusted_volume(who, limits).weekly_distance_m,
        limits=limits,
    )
    allowed = allowed_for(
        who,
        block.settings.training,
        limits,
        race_distance_m=race.distance_m,
        minimum_age=race.minimum_age,
        first_day=first_day,
    )

    def raced(aim: Aim) -> RacePlan:
        return plan_race(
            race=race,
            runner=who,
            course=ground.course,
            features=ground.features,
            demands=ground.demands,
            remarks=ground.remarks,
            form=form,
            prediction=prediction,
            block_weeks=((race.date - first_day).days + 6) // 7,
            limits=limits,
            goal_time_s=goal_time_s,
            conditions=conditions,
            days_lost=days_lost,
            part=allowed.part,
            aim=aim,
        )

    race_plan = raced("walk and run" if walks else "time")
    paces = find_paces(
        form,
        who,
        race_distance_m=race.distance_m,
        race_flat_s_per_km=race_plan.goal.race_flat_s_per_km,
        limits=limits,
    )
    request = Request(
        race=race,
        training=block.settings.training,
        runner=who,
        runner_key=runner.key,
        first_day=first_day,
        course=ground.course,
        features=ground.features,
        demands=ground.demands.none() if allowed.part == "stays out" else ground.demands,
        form=form,
        paces=paces,
        race_plan=race_plan,
        level=level_of(who, limits),
        library=block.library,
        limits=limits,
        nights=block.nights,
    )
    if walks or goal_time_s is not None or not rule_context(request).no_time_goal:
        return request
    effort = finish_effort(race.distance_m, limits)
    paces = paces.by_effort("race effort", effort, _BY_EFFORT)
    return replace(request, race_plan=raced("finish well"), paces=paces)


def form_of(block: Block, ground: Survey, runner: BlockRunner, since: Result | None = None) -> Form:
    """What the results of the block file, and one since then, say of a runner."""
    results = runner.settings.results if since is None else (*runner.settings.results, since)
    return find_form(
        runner.settings.model_copy(update={"results": results}),
        first_day=block.begins(runner.settings),
        race_distance_m=block.settings.race.distance_m,
        courses=ground.other_courses,
        limits=block.limits,
    )


def prepare(block: Block, runners: Sequence[BlockRunner], records: Records | None = None) -> Prepared:
    """Read what the plans of these runners are made from; the records where they are not at hand."""
    records = read_records(block) if records is None else records
    block = replace(block, key=records.history.block_key or block.key)
    ground = survey(block, runners, records.courses_of([runner.key for runner in runners]))
    block, settled = with_nights(block, ground)
    return Prepared(block, ground, records, settled)


def with_nights(block: Block, ground: Survey) -> tuple[Block, dict[str, Settled]]:
    """The block with a session for every club night of a squad: the coach's own, else what serves most.

    In a small squad everybody has a voice, and the weeks that were settled with the nights are their plans;
    in a larger one those who ask for the same kinds speak with one, that of the most usual among them.
    """
    race, training, limits = block.settings.race, block.settings.training, block.limits
    alike: dict[Kin, list[BlockRunner]] = {}
    most = int(limits.number("squad.rehearsed"))
    few = len(block.runners) <= most
    for runner in block.runners if training.club_nights else ():
        kin = kin_of(runner.settings, race, training, limits, first_day=block.begins(runner.settings))
        alike.setdefault((runner.key,) if few else kin, []).append(runner)
    groups = sorted(
        ((_usual(group), nights_of([one.settings for one in group], training)) for group in alike.values()),
        key=lambda group: (-sum(group[1].values()), group[0].key),
    )[:most]
    ground = replace(ground, other_courses=other_courses(block, [usual for usual, _ in groups]))
    asked = [Voice(request_for(block, ground, usual), comes) for usual, comes in groups]
    proposed, voices = propose_nights(asked, block.nights, limits)
    block = replace(block, nights={**proposed, **block.nights})
    return block, {
        voice.request.runner_key: Settled(voice.request, voice.schedule()) for voice in voices if few
    }


def _usual(group: Sequence[BlockRunner]) -> BlockRunner:
    """The middle one by the distance of a week."""
    return sorted(group, key=lambda one: (one.settings.weekly_distance_m[-1:], one.key))[len(group) // 2]
