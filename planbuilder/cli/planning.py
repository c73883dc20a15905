"""Commands that make a block and a plan, and say why."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from planbuilder.cli.options import (
    AGE,
    CLOCK_TEXT,
    DATE,
    DISTANCE_TEXT,
    FOLDER,
    TIME_TEXT,
    WEEKDAY,
    WEEKDAYS_TEXT,
    ZONE,
    Whole,
    json_option,
    runner_option,
    today_of,
    today_option,
)
from planbuilder.cli.terminal import aside, no_session, open_block, say, tell_of_nights, width_here

if TYPE_CHECKING:
    from planbuilder.block import Block
    from planbuilder.outputs.squad import SquadRow


_MANY = 60  # runners of whom one line each is too much


@click.command()
@click.argument("folder", type=FOLDER)
@click.option("--race", "race_name", help="Name of the race.")
@click.option("--date", "race_date", type=DATE, help="Race day.")
@click.option("--distance", type=DISTANCE_TEXT, help='Such as "half marathon", "10 km" or "13.1 mi".')
@click.option("--start-time", type=CLOCK_TEXT, help="Clock time of the start.", default="09:00")
@click.option("--timezone", type=ZONE, help="Such as Europe/Lisbon.")
@click.option("--course", help="A GPX or CSV file inside the folder.")
@click.option("--first-day", type=DATE, help="First day of the block.")
@click.option("--roster", help="A CSV file inside the folder, one runner a row, instead of one runner.")
@click.option("--name", "runner_name", help="First name of the runner, and an initial.")
@click.option("--units", type=click.Choice(["km", "mi"]), default="km", help="Kilometres or miles.")
@click.option("--result-distance", type=DISTANCE_TEXT, help="Distance of a recent race.")
@click.option("--result-time", type=TIME_TEXT, help="Its time.")
@click.option("--result-date", type=DATE, help="Its date.")
@click.option("--goal-time", type=TIME_TEXT, help="The time hoped for.")
@click.option("--weekly-distance", type=DISTANCE_TEXT, help="Mean of the last four weeks.")
@click.option("--longest-run", type=DISTANCE_TEXT, help="Longest run of the last 30 days.")
@click.option(
    "--days",
    type=WEEKDAYS_TEXT,
    default="tuesday, thursday, saturday, sunday",
    help='Days on which to run, such as "tue thu sat sun".',
)
@click.option("--long-run-day", type=WEEKDAY, default="sunday", help="Day of the long run.")
@click.option("--age", type=AGE, help="Age on the first day.")
@click.option("--screening", type=click.Choice(["passed", "cleared", "needed"]), help="Health questions.")
@click.option("--no-input", is_flag=True, help="Ask nothing; take the options as they are.")
@today_option
def new(folder: Path, no_input: bool, **given: Any) -> None:
    """Write the smallest block into FOLDER, asking in a coach's order."""
    from planbuilder.block import new as new_block

    ask, today = None if no_input else _ask, today_of(given.get("timezone"))
    answers = new_block.answers_from(given, ask=ask, today=today)
    path = new_block.write_new_block(folder, answers)
    if given["timezone"] is None and no_input:
        aside(f"No time zone was given: {answers.timezone} is written as timezone in block.toml.")
    say(f"Wrote {path}. Next: planbuilder build {folder} --out {folder / 'out'}\n")


def _ask(question: str, kind: str, default: str | None, check: Callable[[str], object]) -> str | None:
    """One question on the terminal, again until the answer can be read; an empty answer is no answer.

    The unit behind a kind is that of a bare number.
    """
    kinds: dict[str, click.ParamType[Any]] = {
        **{"distance": DISTANCE_TEXT, "time": TIME_TEXT, "date": DATE, "clock": CLOCK_TEXT, "zone": ZONE},
        **{"text": click.STRING, "age": AGE},
        **{"units": click.Choice(["km", "mi"]), "screening": click.Choice(["passed", "cleared", "needed"])},
    }

    kind, _, unit = kind.partition(" ")

    def accept(text: str) -> Any:
        if unit and text.strip().replace(",", ".").replace(".", "", 1).isdecimal():
            text = f"{text.strip().replace(',', '.')} {unit}"
        try:
            answer = kinds[kind].convert(text, None, None) if text else ""
            check(str(answer))
        except click.BadParameter as error:
            raise click.UsageError("it " * error.message.startswith("must") + error.message) from None
        except ValueError as error:
            raise click.UsageError(f"it must be {error}") from None
        return answer

    answer = click.prompt(question, default=default or "", show_default=bool(default), value_proc=accept)
    return None if answer == "" else str(answer)


@click.command()
@click.argument("block", type=FOLDER)
@click.option("--out", type=FOLDER, required=True, help="Folder for the files.")
@runner_option
@click.option("--changed", is_flag=True, help="Leave alone what stands as it would be written.")
@click.option(
    "--skip-bad", is_flag=True, help="Build the good rows of the roster although others have mistakes."
)
@click.option("--jobs", type=Whole(1, 256), help="Processes at once; by default all cores for a squad.")
@json_option
@today_option
def build(
    block: Path,
    out: Path,
    runner: str | None,
    changed: bool,
    skip_bad: bool,
    jobs: int | None,
    as_json: bool,
) -> None:
    """Write every page, calendar and table of a block.

    For each runner plan, calendar, race card, table and JSON; for the squad board and course.
    """
    from planbuilder import delivery
    from planbuilder.outputs import json_files, terminal
    from planbuilder.units import count_of

    read = open_block(block, skip_bad=skip_bad)
    _warn_past(read)
    _warn_moved(read)
    rows, said, refused, skipped = [], 0, 0, 0
    lacking: list[SquadRow] = []
    plans = delivery.build(read, out, only=runner, changed=changed, jobs=jobs)
    count = len(read.runners_named(runner))
    with _progress(count) as bar:
        for one in plans:
            bar.update(1)
            said, refused, skipped = said + 1, refused + one.refused, skipped + one.skipped
            lacking += [one.kept.row] if one.kept.row.kept_from else []
            if as_json:
                rows.append((one.key, one.name, one.refused, one.notes, one.units))
            elif not one.skipped and (count <= _MANY or one.refused):
                say(terminal.build_text(one.name, one.notes, system=one.units, width=width_here()))
    if as_json:
        say(json_files.to_text(json_files.build_json(rows)))
        return
    parts = [f"Built {count_of(said - skipped, 'plan')} in {out}"]
    parts += [f"{skipped} stood as they are"] if skipped else []
    where = "" if runner else f" (see {out / 'coach.html'})"
    parts += [f"{refused} with a refusal{where}"] if refused else []
    parts += [f"{count_of(read.rows_left_out, 'row')} left out"] if read.rows_left_out else []
    say(", ".join(parts) + ".")
    if not runner and (note := delivery.note_of(read, lacking, said)):
        say(terminal.wrapped(note, width=width_here()))


def _progress(count: int) -> Any:
    """A bar on the terminal for long work; nothing else would be seen for a while."""
    hidden = count <= _MANY or not sys.stderr.isatty()
    return click.progressbar(length=count, file=sys.stderr, label="Plans", hidden=hidden)


def _warn_moved(block: Block) -> None:
    """Whether log, edits or settings say more than the accepted plan; nothing where none was accepted."""
    from planbuilder.block.history import HISTORY_FILE, STATE_FOLDER

    if (block.folder / STATE_FOLDER / HISTORY_FILE).exists():
        from planbuilder import living

        for sentence in living.moved_away(block):
            aside(sentence)
        tell_of_nights(block)


def _warn_past(block: Block) -> None:
    race = block.settings.race
    if race.date < today_of(race.timezone):
        aside(f"The race was on {race.date}; the plan is built as it stood.")


@click.command()
@click.argument("block", type=FOLDER)
@runner_option
@json_option
@today_option
def check(block: Path, runner: str | None, as_json: bool) -> None:
    """Check a block and its plans against every rule.

    Breaches end with exit code 1.
    """
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal

    found = list(pipeline.check_block(open_block(block), only=runner))
    if as_json:
        say(json_files.to_text(json_files.check_json(found)))
    else:
        for plan, breaches in found:
            say(terminal.check_text(plan, breaches, width=width_here()))
    if any(breaches for _, breaches in found):
        sys.exit(1)


@click.command()
@click.argument("block", type=FOLDER)
@click.argument("session")
@runner_option
@json_option
@today_option
def why(block: Path, session: str, runner: str | None, as_json: bool) -> None:
    """Why this SESSION (such as w07-long), on this day, at this dose."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal

    plans = list(pipeline.plan_all(open_block(block), only=runner))
    found = [(plan, one) for plan in plans for one in plan.sessions if one.id == session]
    if not found:
        raise no_session(block, session, plans)
    if as_json:
        say(json_files.to_text(json_files.why_json(found)))
        return
    for plan, one in found:
        if len(plans) > 1:
            say(f"{plan.runner.name}\n")
        say(terminal.why_text(plan, one, width=width_here()) + "\n" * (len(plans) > 1))


@click.command()
@click.argument("block", type=FOLDER, required=False)
@runner_option
@json_option
@today_option
def rules(block: Path | None, runner: str | None, as_json: bool) -> None:
    """Every rule, its number, its source, and where it bit."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal
    from planbuilder.rules import RULES
    from planbuilder.settings.limits import default_limits

    read = None if block is None else open_block(block)
    limits = default_limits() if read is None else read.limits
    if as_json:
        say(json_files.to_text(json_files.rules_json(limits, RULES)))
        return
    plans = [] if read is None else list(pipeline.plan_all(read, only=runner))
    say(terminal.rules_text(limits, RULES, plans, width=width_here()))
