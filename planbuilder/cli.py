"""The commands: parse, call, phrase.

Receives: what a person types.
Gives: text on stdout, progress and warnings on stderr, an exit code: 0 fine, 1 breaches (``check`` only),
2 the input is wrong, 3 could not write, 130 interrupted.
"""

from __future__ import annotations

import datetime as dt
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from planbuilder import __version__

if TYPE_CHECKING:
    from planbuilder.block import Block
    from planbuilder.plan.types import Plan
    from planbuilder.units import System

_Command = TypeVar("_Command", bound=Callable[..., Any])
_MIN_WIDTH, _MAX_WIDTH = 60, 110
_MANY = 60  # runners of whom one line each is too much


class _Group(click.Group):
    """Commands in the order of the work, and a question when one is misspelt."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        return list(self.commands)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        from planbuilder.settings.problems import did_you_mean

        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            raise click.UsageError(
                f"{error.message} {did_you_mean(args[0], self.commands)}".strip(), ctx
            ) from None


class _Typed(click.ParamType[Any]):
    """A quantity typed with its unit; checked at the door."""

    def __init__(self, name: str, parse: Callable[[str], Any], *, keep_text: bool = False) -> None:
        self.name, self._parse, self._keep_text = name, parse, keep_text

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        try:
            parsed = self._parse(value)
        except ValueError as error:
            self.fail(f"must be {error}", param, ctx)
        return value.strip() if self._keep_text else parsed


def _parse_date(text: str) -> dt.date:
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise ValueError(f"a date such as 2027-05-16, not {text!r}") from None


def _parse_clock(text: str) -> dt.time:
    from planbuilder.settings.models import read_clock

    return read_clock(text)


def _parse_zone(text: str) -> str:
    from planbuilder.settings.models import read_zone

    return read_zone(text)


def _lazy(name: str) -> Callable[[str], float]:
    def parse(text: str) -> float:
        from planbuilder import units

        return float(getattr(units, name)(text))

    return parse


DATE = _Typed("YYYY-MM-DD", _parse_date)
DISTANCE = _Typed("DISTANCE", _lazy("parse_distance"))
DISTANCE_TEXT = _Typed("DISTANCE", _lazy("parse_distance"), keep_text=True)
TIME = _Typed("H:MM:SS", _lazy("parse_time"))
TIME_TEXT = _Typed("H:MM:SS", _lazy("parse_time"), keep_text=True)
CLOCK_TEXT = _Typed("HH:MM", _parse_clock, keep_text=True)
ZONE = _Typed("ZONE", _parse_zone, keep_text=True)
FOLDER = click.Path(path_type=Path)


def _today_option(command: _Command) -> _Command:
    def keep(ctx: click.Context, _param: click.Parameter, value: dt.date | None) -> None:
        ctx.meta["planbuilder.today"] = value

    return click.option(
        "--today", type=DATE, expose_value=False, callback=keep, help="The day it is taken to be."
    )(command)


def _today(timezone: str | None = None) -> dt.date:
    """The day that --today fixes, else the date in the zone, else on this machine."""
    from zoneinfo import ZoneInfo

    fixed: dt.date | None = click.get_current_context().meta.get("planbuilder.today")
    if fixed is not None:
        return fixed
    now = dt.datetime.now(dt.UTC)
    return now.astimezone(ZoneInfo(timezone) if timezone else None).date()


def _json_option(command: _Command) -> _Command:
    return click.option("--json", "as_json", is_flag=True, help="Print JSON, in metres and seconds.")(command)


def _runner_option(command: _Command) -> _Command:
    return click.option("--runner", metavar="NAME", help="Only this runner, by name or key.")(command)


def _units_option(command: _Command) -> _Command:
    return click.option("--units", type=click.Choice(["km", "mi"]), help="Kilometres or miles.")(command)


def _width() -> int:
    return max(_MIN_WIDTH, min(_MAX_WIDTH, shutil.get_terminal_size().columns))


def _block(folder: Path, *, skip_bad: bool = False) -> Block:
    from planbuilder.block import read_block

    read = read_block(folder, skip_bad=skip_bad)
    for problem in read.skipped:
        _aside(str(problem))
    return read


def _say(text: str) -> None:
    click.echo(text, nl=not text.endswith("\n"))


def _aside(text: str) -> None:
    click.echo(text, err=True)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="planbuilder")
def cli() -> None:
    """Build a block of training weeks and a race plan from the course a squad will race on.

    A block is a folder with a block.toml, a course file and what else a coach keeps for one race. Guidance
    for healthy runners and their coaches, not medical advice.
    """


@cli.command()
@click.argument("folder", type=FOLDER)
@click.option("--race", "race_name", help="Name of the race.")
@click.option("--date", "race_date", type=DATE, help="Race day.")
@click.option("--distance", type=DISTANCE_TEXT, help='Such as "half marathon", "10 km" or "13.1 mi".')
@click.option("--start-time", type=CLOCK_TEXT, help="Clock time of the start.", default="09:00")
@click.option("--timezone", type=ZONE, help="Such as Europe/Lisbon.")
@click.option("--course", help="A GPX or CSV file inside the folder.")
@click.option("--first-day", type=DATE, help="First day of the block.")
@click.option("--name", "runner_name", help="First name of the runner, and an initial.")
@click.option("--units", type=click.Choice(["km", "mi"]), default="km", help="Kilometres or miles.")
@click.option("--result-distance", type=DISTANCE_TEXT, help="Distance of a recent race.")
@click.option("--result-time", type=TIME_TEXT, help="Its time.")
@click.option("--result-date", type=DATE, help="Its date.")
@click.option("--goal-time", type=TIME_TEXT, help="The time hoped for.")
@click.option("--weekly-distance", type=DISTANCE_TEXT, help="Mean of the last four weeks.")
@click.option("--longest-run", type=DISTANCE_TEXT, help="Longest run of the last 30 days.")
@click.option("--days", default="tuesday, thursday, saturday, sunday", help="Days on which to run.")
@click.option("--long-run-day", default="sunday", help="Day of the long run.")
@click.option("--age", type=click.IntRange(5, 100), help="Age on the first day.")
@click.option("--screening", type=click.Choice(["passed", "cleared", "needed"]), help="Health questions.")
@click.option("--no-input", is_flag=True, help="Ask nothing; take the options as they are.")
@_today_option
def new(folder: Path, no_input: bool, **given: Any) -> None:
    """Write the smallest block into FOLDER, asking in a coach's order."""
    from planbuilder.block import new as new_block

    path = new_block.write_new_block(
        folder,
        new_block.answers_from(
            given,
            ask=None if no_input else _ask,
            today=_today(given.get("timezone")),
        ),
    )
    _say(f"Wrote {path}. Next: planbuilder build {folder} --out {folder / 'out'}\n")


def _ask(question: str, kind: str, default: str | None) -> str | None:
    """One question on the terminal; an empty answer is no answer."""
    kinds: dict[str, click.ParamType[Any]] = {
        **{"distance": DISTANCE_TEXT, "time": TIME_TEXT, "date": DATE, "clock": CLOCK_TEXT, "zone": ZONE},
        **{"text": click.STRING, "age": click.IntRange(5, 100)},
        **{"units": click.Choice(["km", "mi"]), "screening": click.Choice(["passed", "cleared", "needed"])},
    }

    def accept(text: str) -> Any:
        return kinds[kind].convert(text, None, None) if text else None

    answer = click.prompt(question, default=default or "", show_default=bool(default), value_proc=accept)
    return None if answer is None else str(answer)


@cli.command()
@click.argument("file", type=FOLDER)
@click.option(
    "--distance", "distance_m", type=DISTANCE, help='The certified distance: "half marathon", "10 km".'
)
@_units_option
@click.option("--html", "html_file", type=FOLDER, help="Write the course page to this file.")
@click.option("--force", is_flag=True, help="Accept a file whose length is far from the distance.")
@_json_option
@_today_option
def course(
    file: Path,
    distance_m: float | None,
    units: System | None,
    html_file: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Read a course FILE: totals, features, split by split, a picture."""
    from planbuilder import delivery, pipeline
    from planbuilder.course import draw_profile
    from planbuilder.outputs import json_files, terminal
    from planbuilder.settings.limits import default_limits

    limits = default_limits()
    system: System = units or "km"
    ground = pipeline.survey_file(file, distance_m=distance_m, force=force)
    splits = delivery.splits_of(ground, limits, system)
    if html_file is not None:
        from planbuilder.outputs.safe_write import write_whole

        write_whole(html_file, delivery.course_page(ground, limits).encode())
        _aside(f"Wrote {html_file}.")
    if as_json:
        data = json_files.course_json(ground.course, ground.features, splits, ground.demands, system)
        _say(json_files.to_text(data))
        return
    plain = not sys.stdout.isatty()
    width = _width()
    picture = draw_profile(ground.course, ground.features, width=width, system=system, plain=plain)
    _say(
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


@cli.command()
@click.argument("block", type=FOLDER)
@_runner_option
@click.option("--goal", type=TIME, help="Run the plan for this time, whatever form says.")
@click.option("--conditions", help='Expected weather, such as "24C 70%".')
@_units_option
@_json_option
@_today_option
def race(
    block: Path,
    runner: str | None,
    goal: float | None,
    conditions: str | None,
    units: System | None,
    as_json: bool,
) -> None:
    """The race plan of one runner or of all: stretch by stretch, by effort."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal
    from planbuilder.race import parse_conditions

    weather = None
    if conditions is not None:
        try:
            weather = parse_conditions(conditions)
        except ValueError as error:
            raise click.BadParameter(f"must be {error}", param_hint="--conditions") from None
    plans = pipeline.plan_all(_block(block), only=runner, goal_time_s=goal, conditions=weather)
    if as_json:
        _say(json_files.to_text(json_files.race_json(plans)))
        return
    for plan in plans:
        _say(terminal.race_text(plan, system=units or plan.runner.units, width=_width()) + "\n")


@cli.command()
@click.argument("block", type=FOLDER)
@click.option("--out", type=FOLDER, required=True, help="Folder for the files.")
@_runner_option
@click.option("--changed", is_flag=True, help="Leave alone what stands as it would be written.")
@click.option(
    "--skip-bad", is_flag=True, help="Build the good rows of the roster although others have mistakes."
)
@click.option(
    "--jobs", type=click.IntRange(1, 256), help="Processes at once; by default all cores for a squad."
)
@_json_option
@_today_option
def build(
    block: Path,
    out: Path,
    runner: str | None,
    changed: bool,
    skip_bad: bool,
    jobs: int | None,
    as_json: bool,
) -> None:
    """Write everything: pages, calendar, table and JSON for each runner, the board and the course."""
    from planbuilder import delivery
    from planbuilder.outputs import json_files, terminal

    read = _block(block, skip_bad=skip_bad)
    _warn_past(read)
    _warn_moved(read)
    rows, said, refused, skipped = [], 0, 0, 0
    plans = delivery.build(read, out, only=runner, changed=changed, jobs=jobs)
    count = len(read.runners_named(runner))
    with _progress(count) as bar:
        for one in plans:
            bar.update(1)
            said, refused, skipped = said + 1, refused + one.refused, skipped + one.skipped
            if as_json:
                rows.append((one.key, one.name, one.refused, one.notes, one.units))
            elif not one.skipped and (count <= _MANY or one.refused):
                _say(terminal.build_text(one.name, one.notes, system=one.units, width=_width()))
    if as_json:
        _say(json_files.to_text(json_files.build_json(rows)))
        return
    parts = [f"Built {said - skipped} {'plan' if said - skipped == 1 else 'plans'} in {out}"]
    parts += [f"{skipped} stood as they are"] if skipped else []
    parts += [f"{refused} refused"] if refused else []
    parts += [f"{len(read.skipped)} rows left out"] if read.skipped else []
    _say(", ".join(parts) + ".")


def _progress(count: int) -> Any:
    """A bar on the terminal for long work; nothing else would be seen for a while."""
    hidden = count <= _MANY or not sys.stderr.isatty()
    return click.progressbar(length=count, file=sys.stderr, label="Plans", hidden=hidden)


@cli.command()
@click.argument("block", type=FOLDER)
@click.argument("date", type=DATE)
@click.option("--accept", is_flag=True, help="Write what is proposed down in the club's file.")
@_units_option
@_today_option
def night(block: Path, date: dt.date, accept: bool, units: System | None) -> None:
    """What the squad does on a club night: typed by the coach, or proposed for most."""
    from planbuilder import delivery
    from planbuilder.outputs.night_text import night_text

    read = _block(block)
    found = delivery.night_on(read, date)
    system: System = units or read.settings.race.markers
    _say(night_text(found.sheet, line=found.line, typed=found.typed, system=system))
    if accept and found.line and not found.typed:
        _say(f"Wrote it down in {delivery.accept_night(read, date, found.line)}.")
    elif accept:
        _say("There is nothing to write down: " + ("it is typed." if found.typed else "nothing is proposed."))


@cli.command()
@click.argument("blocks", type=FOLDER, nargs=-1, required=True)
@click.option("--out", type=FOLDER, required=True, help="The file to write.")
@_today_option
def board(blocks: tuple[Path, ...], out: Path) -> None:
    """One board over several BLOCKS that share their club nights."""
    from planbuilder import delivery
    from planbuilder.outputs.safe_write import write_whole

    page = delivery.board_over([_block(block) for block in blocks])
    write_whole(out, page.encode())
    _say(f"Wrote {out}.")


def _warn_moved(block: Block) -> None:
    """Whether log, edits or settings say more than the accepted plan; nothing where none was accepted."""
    from planbuilder.block.history import HISTORY_FILE, STATE_FOLDER

    if (block.folder / STATE_FOLDER / HISTORY_FILE).exists():
        from planbuilder import living

        for sentence in living.moved_away(block):
            _aside(sentence)


def _warn_past(block: Block) -> None:
    race = block.settings.race
    if race.date < _today(race.timezone):
        _aside(f"The race was on {race.date}; the plan is built as it stood.")


@cli.command()
@click.argument("block", type=FOLDER)
@_runner_option
@_json_option
@_today_option
def check(block: Path, runner: str | None, as_json: bool) -> None:
    """Check the block file, and the plan against every rule; breaches end with exit code 1."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal

    found = list(pipeline.check_block(_block(block), only=runner))
    if as_json:
        _say(json_files.to_text(json_files.check_json(found)))
    else:
        for plan, breaches in found:
            _say(terminal.check_text(plan, breaches, width=_width()))
    if any(breaches for _, breaches in found):
        sys.exit(1)


@cli.command()
@click.argument("block", type=FOLDER)
@click.argument("session")
@_runner_option
@_json_option
@_today_option
def why(block: Path, session: str, runner: str | None, as_json: bool) -> None:
    """Why this SESSION (such as w07-long), on this day, at this dose."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal

    plans = list(pipeline.plan_all(_block(block), only=runner))
    found = [(plan, one) for plan in plans for one in plan.sessions if one.id == session]
    if not found:
        raise _no_session(block, session, plans)
    if as_json:
        _say(json_files.to_text(json_files.why_json(found)))
        return
    for plan, one in found:
        _say(terminal.why_text(plan, one, width=_width()))


def _no_session(block: Path, session: str, plans: Sequence[Plan]) -> Exception:
    from planbuilder.settings.problems import InputProblems, Problem, did_you_mean

    ids = sorted({one.id for plan in plans for one in plan.sessions})
    return InputProblems(
        [
            Problem(
                str(block),
                None,
                "the session must be an id of the plan, such as w03-long",
                f'not "{session}"',
                did_you_mean(session, ids),
            )
        ]
    )


@cli.command()
@click.argument("block", type=FOLDER, required=False)
@_runner_option
@_json_option
@_today_option
def rules(block: Path | None, runner: str | None, as_json: bool) -> None:
    """Every rule, its number and its source; for a BLOCK, where each one bit."""
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, terminal
    from planbuilder.rules import RULES
    from planbuilder.settings.limits import default_limits

    read = None if block is None else _block(block)
    limits = default_limits() if read is None else read.limits
    if as_json:
        _say(json_files.to_text(json_files.rules_json(limits, RULES)))
        return
    plans = [] if read is None else list(pipeline.plan_all(read, only=runner))
    _say(terminal.rules_text(limits, RULES, plans, width=_width()))


@cli.command()
@click.argument("block", type=FOLDER)
@click.argument("routes", type=FOLDER, nargs=-1)
@_runner_option
@_units_option
@_json_option
@_today_option
def rehearse(
    block: Path, routes: tuple[Path, ...], runner: str | None, units: System | None, as_json: bool
) -> None:
    """Which stretch of which local route stands in for which stretch of the course.

    ROUTES are course files or folders of them; by default those in the routes folder of the block.
    """
    from planbuilder import pipeline
    from planbuilder.outputs import json_files, rehearsal_text

    read = _block(block)
    ground, rehearsals = pipeline.rehearse_block(read, routes, only=runner)
    if as_json:
        rows = [(plan.runner.key, found, plan.runner.units) for plan, found in rehearsals]
        _say(json_files.to_text(rehearsal_text.rehearse_json(ground, rows)))
        return
    width, plain = _width(), not sys.stdout.isatty()
    if ground is not None:
        system = units or read.settings.race.markers
        _say(rehearsal_text.ground_text(ground, system=system, width=width, plain=plain))
    for plan, found in rehearsals:
        text = rehearsal_text.rehearsal_text(found, system=units or plan.runner.units, width=width)
        if text:
            _say(f"{plan.runner.name}\n{text}")
    if ground is None and not rehearsals:
        _say("No routes were given, and every runner has hills near home: any hill of that grade will do.")


@cli.command()
@click.argument("block", type=FOLDER)
@click.option("--runner", metavar="NAME", help="Who ran.")
@click.option("--date", "day", type=DATE, help="When.")
@click.option("--session", default="", help="Session of the plan, such as w07-long; none for another run.")
@click.option("--went", type=click.Choice(["done", "part", "missed"]), default="done", show_default=True)
@click.option("--distance", type=DISTANCE_TEXT, help='Such as "18 km".')
@click.option("--time", "duration", type=TIME_TEXT, help="Such as 1:42:00.")
@click.option("--effort", type=click.FloatRange(0, 10), help="0 to 10.")
@click.option("--pain", type=click.IntRange(0, 10), help="0 to 10.")
@click.option("--where", default="", help="Where it hurt.")
@click.option("--note", default="", help="A word.")
@click.option("--paste", is_flag=True, help="Read lines from runners' pages out of a chat on standard input.")
@click.option("--night", type=DATE, help="Enter the register of a club night.")
@click.option("--all", "everyone", is_flag=True, help="With --night: everybody was there.")
@click.option("--except", "absent", multiple=True, metavar="NAME", help="With --night --all: but not they.")
@_today_option
def log(
    block: Path,
    runner: str | None,
    day: dt.date | None,
    paste: bool,
    night: dt.date | None,
    everyone: bool,
    absent: tuple[str, ...],
    **said: Any,
) -> None:
    """Add to log.csv what was run, and say what was understood."""
    from planbuilder import living
    from planbuilder.block.log import LogLine
    from planbuilder.outputs import terminal_living

    if paste:
        found = living.paste_into_log(block, sys.stdin.read())
    elif night is not None:
        if not everyone:
            raise click.UsageError("--night needs --all, and --except NAME for those who were not there.")
        found = living.register_night(block, night, absent)
    elif runner is None or day is None:
        raise click.UsageError("a line needs --runner and --date; or use --paste or --night.")
    else:
        cells = {name: _cell(said[name]) for name in ("session", "went", "distance", "effort", "pain")}
        line = LogLine(
            date=day.isoformat(),
            runner=runner,
            time=_cell(said["duration"]),
            where=said["where"],
            note=said["note"],
            **cells,
        )
        found = living.add_to_log(block, [line])
    for one in found:
        _say(terminal_living.understood_text(one.name, one.logged.done, one.session, system=one.units))
    _say(f"Added {len(found)} {'line' if len(found) == 1 else 'lines'}. See: planbuilder replan {block}")


def _cell(value: Any) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


class _Day(click.ParamType[Any]):
    """A date, or the weekday of the session's own week."""

    name = "DAY"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        from planbuilder.settings.models import WEEKDAYS

        if not isinstance(value, str):
            return value
        if value.lower() in WEEKDAYS:
            return value.lower()
        try:
            return _parse_date(value)
        except ValueError:
            self.fail(f"must be a date such as 2027-05-16 or a weekday, not {value!r}", param, ctx)


@cli.command()
@click.argument("block", type=FOLDER)
@click.argument("what")
@_runner_option
@click.option("--to", type=_Day(), help="New day of the session, or last day of a stretch of days.")
@click.option("--with", "other", help="Session to change days with.")
@click.option("--skip", is_flag=True, help="Call the session off.")
@click.option("--kind", help="Another kind of session from the library.")
@click.option("--minutes", type=click.IntRange(10, 240), help="How long the session lasts in all.")
@click.option("--text", help="A sentence beside the session; nothing about health.")
@click.option("--from", "first", type=DATE, help="First day; by default today.")
@click.option("--runs", type=click.IntRange(0, 7), help="away: short runs a week that are possible.")
@click.option("--fever/--no-fever", default=None, help="ill: fever, chest, aching muscles, or sniffles only.")
@click.option("--place", help="niggle: where, such as calf, achilles, knee.")
@click.option("--pain", type=click.IntRange(0, 10), help="niggle: 0 to 10, when running.")
@click.option("--limping", is_flag=True, help="niggle: limping, swelling, or worse the next morning.")
@click.option("--cleared", type=DATE, help="niggle: day a licensed practitioner cleared the runner.")
@click.option("--distance", type=DISTANCE_TEXT, help="result: distance.")
@click.option("--time", "time_text", type=TIME_TEXT, help="result: finish time; goal: the new goal.")
@click.option("--date", "day", type=DATE, help="result: when.")
@click.option("--course", help='result: "flat", "rolling", "hilly" or a course file.')
@click.option("--climb", help='result: ascent of the course, such as "110 m".')
@click.option("--temperature", help='result: air temperature, such as "24 C".')
@click.option("--explained", is_flag=True, help="result: a clear reason made it slow.")
@click.option("--confirmed", is_flag=True, help="result: a session at the new paces went well.")
@click.option("--why", "reason", help="A reason for the runner; nothing about health.")
@click.option(
    "--by", type=click.Choice(["coach", "runner"]), help="Whose word it is; by default the coach's."
)
@_json_option
@_today_option
def edit(block: Path, what: str, runner: str | None, as_json: bool, **said: Any) -> None:
    """Change WHAT: a session such as w07-long, or away, ill, tired, niggle, result, goal of a runner."""
    from planbuilder import living
    from planbuilder.outputs import json_files, terminal_living

    read = _block(block)
    if runner is None and len(read.runners) > 1:
        raise click.UsageError("this block has several runners: say --runner NAME.")
    who = read.runners_named(runner)[0].settings.name
    timezone = read.settings.race.timezone
    today = _today(timezone)
    values = _edit_values(what, who, today, said, _dates_of(read, who))
    found = living.edit(block, values, today=today, now=_now(timezone))
    if as_json:
        _say(json_files.to_text({"version": 1, **terminal_living.replan_json(found.key, found.answer)}))
        return
    _say(terminal_living.replan_text(found.name, found.answer, system=found.units, width=_width()))
    if "session" in values:
        _say("Written and accepted. To take it back: planbuilder undo.")
    else:
        _say(f"Written. To let these changes hold: planbuilder replan {block} --accept")


def _dates_of(block: Block, name: str) -> Callable[[str, str], dt.date]:
    """Finds the day of a session's own week."""

    def find(session: str, weekday: str) -> dt.date:
        from planbuilder import pipeline
        from planbuilder.settings.models import WEEKDAYS

        plans = list(pipeline.plan_all(block, only=name))
        for one in (one for plan in plans for one in plan.sessions if one.id == session):
            monday = one.date - dt.timedelta(days=one.date.weekday())
            return monday + dt.timedelta(days=[str(day) for day in WEEKDAYS].index(weekday))
        raise _no_session(block.folder, session, plans)

    return find


_ABOUT_A_RUNNER = ("away", "ill", "tired", "niggle", "result", "goal")


def _edit_values(
    what: str,
    runner: str,
    today: dt.date,
    said: dict[str, Any],
    day_of: Callable[[str, str], dt.date],
) -> dict[str, Any]:
    """The words of an edit as they stand in edits.toml."""
    shared = {"runner": runner, "on": today, "why": said["reason"], "by": said["by"]}
    if what in _ABOUT_A_RUNNER:
        own = _runner_values(what, today, said)
    else:
        own = _session_values(what, said, day_of)
    return {key: value for key, value in {**own, **shared}.items() if value is not None}


def _runner_values(what: str, today: dt.date, said: dict[str, Any]) -> dict[str, Any]:
    if what == "goal":
        return {"do": what, "goal_time": said["time_text"]}
    if what == "result":
        names = ("distance", "course", "climb", "temperature")
        flags = {name: True for name in ("explained", "confirmed") if said[name]}
        own = {name: said[name] for name in names}
        return {"do": what, "date": said["day"] or today, "time": said["time_text"], **own, **flags}
    stretch = {"do": what, "from": said["first"] or today, "to": said["to"]}
    if isinstance(stretch["to"], str):
        raise click.UsageError("--to must be a date here.")
    if what == "away":
        return {**stretch, "runs": said["runs"]}
    if what == "ill":
        return {**stretch, "fever": said["fever"]}
    if what == "niggle":
        limping = True if said["limping"] else None
        own = {name: said[name] for name in ("place", "pain", "cleared")}
        return {**stretch, **own, "limping": limping}
    return stretch


def _session_values(what: str, said: dict[str, Any], day_of: Callable[[str, str], dt.date]) -> dict[str, Any]:
    asked = {
        "move": said["to"],
        "swap": said["other"],
        "skip": said["skip"] or None,
        "replace": said["kind"],
        "annotate": said["text"],
    }
    given = [name for name, value in asked.items() if value is not None]
    if not given and said["minutes"] is not None:
        return {"do": "shorten", "session": what, "minutes": said["minutes"]}
    if len(given) != 1:
        raise click.UsageError(
            f"say one thing to do with {what}: --to, --with, --skip, --kind, --minutes or --text."
        )
    do = given[0]
    values: dict[str, Any] = {"do": do, "session": what}
    if do == "move":
        to = said["to"]
        values["to"] = day_of(what, to) if isinstance(to, str) else to
    elif do == "swap":
        values["with"] = said["other"]
    elif do == "replace":
        values |= {"kind": said["kind"], "minutes": said["minutes"]}
    elif do == "annotate":
        values["text"] = said["text"]
    return values


@cli.command()
@click.argument("block", type=FOLDER)
@_runner_option
@click.option("--accept", is_flag=True, help="Let the changes hold.")
@_json_option
@_today_option
def replan(block: Path, runner: str | None, accept: bool, as_json: bool) -> None:
    """What today changes in the days ahead and why, before and after; the past stays."""
    from planbuilder import living
    from planbuilder.outputs import json_files, terminal_living

    read = _block(block)
    timezone = read.settings.race.timezone
    today = _today(timezone)
    found = list(living.propose(read, today=today, only=runner))
    if accept:
        living.accept(read, found, by="replan", today=today, now=_now(timezone))
    if as_json:
        rows = [terminal_living.replan_json(one.key, one.answer) for one in found]
        _say(json_files.to_text({"version": 1, "today": today.isoformat(), "runners": rows}))
        return
    for one in found:
        _say(terminal_living.replan_text(one.name, one.answer, system=one.units, width=_width()))
    changed = sum(bool(one.answer.changes) for one in found)
    if accept:
        _say(
            f"Accepted for {changed} {'runner' if changed == 1 else 'runners'}. Take back: planbuilder undo."
        )
    elif changed:
        _say(f"Nothing is written yet. To let this hold: planbuilder replan {block} --accept")


@cli.command()
@click.argument("block", type=FOLDER)
@_runner_option
@_today_option
def undo(block: Path, runner: str | None) -> None:
    """Take back the last accepted change; the plan stands as it did before it."""
    from planbuilder import living

    timezone = _block(block).settings.race.timezone
    found = living.undo(block, only=runner, today=_today(timezone), now=_now(timezone))
    for name, entry in found:
        _say(f"{name}: version {entry.version} of {entry.day} is taken back.")


@cli.command()
@click.argument("block", type=FOLDER)
@click.argument("name")
@click.option(
    "--everything", is_flag=True, help="Log, edits and accepted plans of the person, not only health."
)
@click.confirmation_option("--yes", prompt="This cannot be taken back. Go on?")
def forget(block: Path, name: str, everything: bool) -> None:
    """Take out what the folder knows of the health of NAME, or all it keeps about them."""
    from planbuilder import living

    found = living.forget(block, name, everything=everything)
    _say("; ".join(f"{file}: {count}" for file, count in found.items()) + " taken out.")
    if everything:
        _say(f"Now take {name} out of block.toml or the roster, and publish: the feed goes with it.")


@cli.command()
@click.argument("block", type=FOLDER)
@click.option("--to", "site", type=FOLDER, required=True, help="Folder for the site.")
@click.option(
    "--base-url", required=True, help="Where that folder will stand, such as https://example.org/run."
)
@click.option(
    "--renew", multiple=True, metavar="NAME", help="Give this runner (or board, coach) a new address."
)
@_json_option
@_today_option
def publish(block: Path, site: Path, base_url: str, renew: tuple[str, ...], as_json: bool) -> None:
    """Write the site folder for any web host: a private address for each runner."""
    from planbuilder import delivery
    from planbuilder.outputs import json_files, terminal

    read = _block(block)
    report = delivery.publish_block(
        read, site=site, base_url=base_url, now=_now(read.settings.race.timezone), renew=renew
    )
    for warning in report.warnings:
        _aside(warning)
    lines = [(address.name, address.page_url, address.feed_url) for address in report.addresses.values()]
    lines += [("the board", report.board_url, ""), ("the coach", report.coach_url, "")]
    if as_json:
        data = {"version": 1, "addresses": [{"name": n, "page": p, "feed": f} for n, p, f in lines]}
        _say(json_files.to_text(data))
        return
    _say(terminal.columns(("who", "page", "calendar"), lines))
    _say(
        f"Wrote {len(report.written)} files to {site}; {len(report.changed)} feeds say something new. "
        "Whoever knows an address can read what stands there."
    )


@cli.command()
@click.argument("block", type=FOLDER)
@click.option("--why", "reason", default="", help="The reason in a few words, nothing about health.")
@_today_option
def changes(block: Path, reason: str) -> None:
    """What changed since the last publish, as a message to paste into the squad's chat."""
    from planbuilder import delivery

    read = _block(block)
    why = {"": reason} if reason else {}
    _say(delivery.changes_message(read, now=_now(read.settings.race.timezone), why=why))


@cli.command()
@click.argument("block", type=FOLDER)
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option(
    "--port", type=click.IntRange(1, 65535), default=8000, show_default=True, help="Port to listen on."
)
@click.option("--base-url", default="", help="Public address of this server; by default host and port.")
@_today_option
def serve(block: Path, host: str, port: int, base_url: str) -> None:
    """Serve the same site from here, and make it anew whenever the block changes."""
    from planbuilder import delivery

    fixed = click.get_current_context().meta.get("planbuilder.today")
    delivery.serve_block(
        block,
        host=host,
        port=port,
        base_url=base_url or f"http://{f'[{host}]' if ':' in host else host}:{port}",
        say=_aside,
        clock=lambda: _moment(fixed, "UTC"),
    )


def _now(timezone: str) -> dt.datetime:
    """The moment that --today fixes (noon in the zone), else now; aware."""
    return _moment(click.get_current_context().meta.get("planbuilder.today"), timezone)


def _moment(fixed: dt.date | None, timezone: str) -> dt.datetime:
    from zoneinfo import ZoneInfo

    if fixed is None:
        return dt.datetime.now(dt.UTC)
    return dt.datetime.combine(fixed, dt.time(12), ZoneInfo(timezone)).astimezone(dt.UTC)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run a command and turn what goes wrong into one clear sentence and an exit code."""
    from planbuilder.settings.problems import CannotWrite, InputProblems, PlanbuilderError

    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")  # looking for some takes a tenth of a second
    try:
        cli.main(args=arguments, prog_name="planbuilder", standalone_mode=False)
    except click.exceptions.Abort:
        _leave("Stopped; what was written before is whole.", 130)
    except KeyboardInterrupt:
        _leave("Stopped; what was written before is whole.", 130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except InputProblems as error:
        _leave(str(error), 2)
    except CannotWrite as error:
        _leave(str(error), 3)
    except PlanbuilderError as error:
        _leave(str(error), 2)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)


def _leave(text: str, code: int) -> None:
    _aside(text)
    sys.exit(code)


if __name__ == "__main__":
    main()
