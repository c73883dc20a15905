"""Commands about the ground: the course, the race on it, and where to rehearse it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planbuilder.cli.options import (
    DISTANCE,
    FOLDER,
    TIME,
    json_option,
    runner_option,
    today_option,
    units_option,
)
from planbuilder.cli.terminal import aside, open_block, say, width_here

if TYPE_CHECKING:
    from planbuilder.units import System


@click.command()
@click.argument("file", type=FOLDER)
@click.option(
    "--distance", "distance_m", type=DISTANCE, help='The certified distance: "half marathon", "10 km".'
)
@units_option
@click.option("--html", "html_file", type=FOLDER, help="Write the course page to this file.")
@click.option("--force", is_flag=True, help="Accept a file whose length is far from the distance.")
@json_option
@today_option
def course(
    file: Path,
    distance_m: float | None,
    units: System | None,
    html_file: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Read a course FILE: totals, features, split by split, a picture."""
    from planbuilder import delivery
    from planbuilder.block.survey import survey_file
    from planbuilder.course import draw_profile
    from planbuilder.outputs import json_files, terminal
    from planbuilder.settings.limits import default_limits

    limits = default_limits()
    system: System = units or "km"
    ground = survey_file(file, distance_m=distance_m, force=force)
    splits = delivery.splits_of(ground, limits, system)
    if html_file is not None:
        from planbuilder.outputs.safe_write import write_whole

        write_whole(html_file, delivery.course_page(ground, delivery.course_parts(ground, limits)).encode())
        aside(f"Wrote {html_file}.")
    if as_json:
        data = json_files.course_json(ground.course, ground.features, splits, ground.demands, system)
        say(json_files.to_text(data))
        return
    plain = not sys.stdout.isatty()
    width = width_here()
    picture = draw_profile(ground.course, ground.features, width=width, system=system, plain=plain)
    say(
        terminal.course_text(
            ground.course,
            ground.features,
            splits,
            ground.demands,
            ground.remarks,
            picture,
            system=system,
            width=width,
        )
    )


@click.command()
@click.argument("block", type=FOLDER)
@runner_option
@click.option("--goal", type=TIME, help="Run the plan for this time, whatever form says.")
@click.option("--conditions", help='Expected weather, such as "24C 70%".')
@units_option
@json_option
@today_option
def race(
    block: Path,
    runner: str | None,
    goal: float | None,
    conditions: str | None,
    units: System | None,
    as_json: bool,
) -> None:
    """Plan the race stretch by stretch, by effort."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal
    from planbuilder.race import parse_conditions

    weather = None
    if conditions is not None:
        try:
            weather = parse_conditions(conditions)
        except ValueError as error:
            raise click.BadParameter(f"must be {error}", param_hint="--conditions") from None
    plans = pipeline.plan_all(open_block(block), only=runner, goal_time_s=goal, conditions=weather)
    if as_json:
        say(json_files.to_text(json_files.race_json(plans)))
        return
    for plan in plans:
        say(terminal.race_text(plan, system=units or plan.runner.units, width=width_here()) + "\n")


@click.command()
@click.argument("block", type=FOLDER)
@click.argument("routes", type=FOLDER, nargs=-1)
@runner_option
@units_option
@json_option
@today_option
def rehearse(
    block: Path, routes: tuple[Path, ...], runner: str | None, units: System | None, as_json: bool
) -> None:
    """Which local ground stands in for which stretch of the race.

    ROUTES are course files or folders of them; by default those in the routes folder of the block.
    """
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, rehearsal_text

    read = open_block(block)
    ground, rehearsals = pipeline.rehearse_block(read, routes, only=runner)
    if as_json:
        rows = [(plan.runner.key, found, plan.runner.units) for plan, found in rehearsals]
        say(json_files.to_text(rehearsal_text.rehearse_json(ground, rows)))
        return
    width, plain = width_here(), not sys.stdout.isatty()
    if ground is not None:
        system = units or read.settings.race.markers
        say(rehearsal_text.ground_text(ground, system=system, width=width, plain=plain))
    for plan, found in rehearsals:
        text = rehearsal_text.rehearsal_text(found, system=units or plan.runner.units, width=width)
        if text:
            say(f"{plan.runner.name}\n{text}")
    if ground is None and not rehearsals:
        say("No routes were given, and every runner has hills near home: any hill of that grade will do.")
