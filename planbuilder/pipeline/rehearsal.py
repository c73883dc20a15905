"""What local routes hold for a course.

Receives: a block, and routes where they are not its own.
Gives: the ground that was found, and what each runner needs of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from planbuilder.block import Block
from planbuilder.block.survey import Survey
from planbuilder.plan.types import Plan
from planbuilder.rehearse import NOT_SEARCHED, LocalGround, Rehearsal, find_ground, index_routes, route_files
from planbuilder.settings.limits import Limits
from planbuilder.settings.problems import InputProblems, Problem, pass_over

if TYPE_CHECKING:
    pass

from planbuilder.pipeline.plans import plan_now
from planbuilder.pipeline.prepared import prepare


def rehearse_block(
    block: Block, routes: Sequence[Path], *, only: str | None = None
) -> tuple[LocalGround | None, list[tuple[Plan, Rehearsal]]]:
    """What these routes (by default the block's own) hold for the course, and what each runner needs."""
    runners = block.runners_named(only)
    prepared = prepare(block, runners)
    ground = prepared.ground
    if routes:
        ground = replace(ground, local={"": search_routes(ground, routes, block.limits)})
        prepared = replace(prepared, ground=ground)
    plans = [plan_now(prepared, runner).plan for runner in runners]
    return ground.local.get(""), [(plan, plan.rehearsal) for plan in plans if plan.rehearsal is not None]


def search_routes(ground: Survey, routes: Sequence[Path], limits: Limits) -> LocalGround:
    """The local ground in these files and folders; InputProblems where none of them is a route."""
    files = [file for path in routes for file in (route_files(path) if path.is_dir() else (path,))]
    library = index_routes(files, folder=Path.cwd(), limits=limits, cache=None)
    if not len(library):
        nothing = Problem(str(routes[0]), None, "there must be a route to search", "none was found")
        raise InputProblems(library.problems or [nothing])
    for problem in library.problems:
        pass_over(problem, NOT_SEARCHED)
    return find_ground(ground.course, ground.features, ground.demands, library, limits)
