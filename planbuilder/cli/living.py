"""Commands for weeks that go their own way: the log, edits, re-planning."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import sys
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from planbuilder.cli.options import (
    DATE,
    DISTANCE_TEXT,
    FOLDER,
    TIME_TEXT,
    Number,
    Whole,
    json_option,
    now_in,
    parse_date,
    runner_option,
    today_of,
    today_option,
)
from planbuilder.cli.terminal import aside, no_session, open_block, say, tell_of_health, typed, width_here
from planbuilder.units import count_of

if TYPE_CHECKING:
    from planbuilder.block import Block
    from planbuilder.living import Proposal, Understood


@click.command()
@click.argument("block", type=FOLDER)
@click.option("--runner", metavar="NAME", help="Who ran.")
@click.option("--date", "day", type=DATE, help="When.")
@click.option("--session", default="", help="Session of the plan, such as w07-long; none for another run.")
@click.option("--went", type=click.Choice(["done", "part", "missed"]), default="done", show_default=True)
@click.option("--distance", type=DISTANCE_TEXT, help='Such as "18 km".')
@click.option("--time", "duration", type=TIME_TEXT, help="Such as 1:42:00.")
@click.option("--effort", type=Number(0, 10), help="0 to 10.")
@click.option("--pain", type=Whole(0, 10), help="0 to 10.")
@click.option("--where", default="", help="Where it hurt.")
@click.option("--note", default="", help="A word.")
@click.option("--paste", is_flag=True, help="Read lines from runners' pages out of a chat on standard input.")
@click.option("--night", type=DATE, help="Enter the register of a club night.")
@click.option("--all", "everyone", is_flag=True, help="With --night: everybody was there.")
@click.option("--except", "absent", multiple=True, metavar="NAME", help="With --night --all: but not they.")
@today_option
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
    from planbuilder.block.living import passed_over_in_log
    from planbuilder.block.log import LOG_FILE
    from planbuilder.block.log_table import LogLine
    from planbuilder.outputs import terminal_living

    read = open_block(block, tell_log=False)
    today = today_of(read.settings.race.timezone)
    if paste:
        found = _paste(block, sys.stdin.read(), today)
    elif night is not None:
        if not everyone:
            raise click.UsageError("--night needs --all, and --except NAME for those who were not there.")
        found = living.register_night(block, night, absent, today=today)
    elif runner is None or day is None:
        raise click.UsageError("a line needs --runner and --date; or use --paste or --night.")
    else:
        cells = {name: _cell(said[name]) for name in ("session", "went", "distance", "effort", "pain")}
        line = LogLine(
            date=day.isoformat(),
            runner=read.runners_named(runner)[0].settings.name,
            time=_cell(said["duration"]),
            where=said["where"],
            note=said["note"],
            **cells,
        )
        found = living.add_to_log(block, [line], today=today)
        if not found:
            aside(f"This line stands in {LOG_FILE} already.")
    for problem in passed_over_in_log(read):
        aside(str(problem))
    for one in found:
        say(terminal_living.understood_text(one.name, one.logged.done, one.session, system=one.units))
        if one.race:
            say(f"Was this {one.race}? Then write that as the session of its line in {LOG_FILE}.")
    say(f"Added {count_of(len(found), 'line')}. See: planbuilder replan {typed(block)}")


def _paste(block: Path, text: str, today: dt.date) -> tuple[Understood, ...]:
    """Lines out of a chat into the log; what was not understood is told, and nothing at all is an error."""
    from planbuilder import living
    from planbuilder.block.log import LOG_FILE

    found = living.paste_into_log(block, text, today=today)
    for problem in found.problems:
        aside(str(problem))
    if found.repeated:
        aside(f"{count_of(found.repeated, 'line stands', 'lines stand')} in {LOG_FILE} already.")
    if found.plain:
        aside(f"{count_of(found.plain, 'line')} without bars passed over: read them yourself.")
    return found.understood


def _cell(value: Any) -> str:
    return "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


class _Day(click.ParamType[Any]):
    """A date, or the weekday of the session's own week."""

    name = "DAY"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        from planbuilder.block.weekdays import read_weekday

        if not isinstance(value, str):
            return value
        with contextlib.suppress(ValueError):
            return read_weekday(value)
        try:
            return parse_date(value)
        except ValueError as error:
            must, _, found = str(error).rpartition(", not ")
            self.fail(f"must be {must} or a weekday, not {found}", param, ctx)


@click.command()
@click.argument("block", type=FOLDER)
@click.argument("what")
@runner_option
@click.option("--to", type=_Day(), help="New day of the session, or last day of a stretch of days.")
@click.option("--with", "other", help="Session to change days with.")
@click.option("--skip", is_flag=True, help="Call the session off.")
@click.option("--kind", help="Another kind of session from the library.")
@click.option("--minutes", type=Whole(10, 240), help="How long the session lasts in all.")
@click.option("--text", help="A sentence beside the session; nothing about health.")
@click.option("--from", "first", type=DATE, help="First day; by default today.")
@click.option("--runs", type=Whole(0, 7), help="away: runs a week that are possible, short ones.")
@click.option("--fever/--no-fever", default=None, help="ill: fever, chest, aching muscles, or sniffles only.")
@click.option("--hours", type=Number(0, 14), help="tired: sleep a night over these days.")
@click.option("--worn", is_flag=True, help="tired: heavy legs and low mood too, or a high pulse at rest.")
@click.option("--place", help="niggle: where, such as calf, achilles, knee.")
@click.option("--pain", type=Whole(0, 10), help="niggle: 0 to 10, when running.")
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
@json_option
@today_option
def edit(block: Path, what: str, runner: str | None, as_json: bool, **said: Any) -> None:
    """Change a session, or say what is new with a runner.

    WHAT is a session such as w07-long, the date of a club night, or one of away, easy, ill, tired, niggle,
    result, goal.
    """
    from planbuilder import living
    from planbuilder.block.edits import night_date
    from planbuilder.outputs import json_files
    from planbuilder.settings.edit_models import EVERYONE

    read = open_block(block, tell_log=False)
    what = str(night_date(what) or what)
    if runner is None and len(read.runners) > 1:
        raise click.UsageError("this block has several runners: say --runner NAME, or --runner everyone.")
    everyone = runner is not None and runner.casefold() == EVERYONE
    who = EVERYONE if everyone else read.runners_named(runner)[0].settings.name
    if what not in _ABOUT_A_RUNNER and not any(letter.isdigit() for letter in what):
        raise click.UsageError(
            "WHAT must be a session such as w07-long, the date of a club night, or one of "
            f'{", ".join(_ABOUT_A_RUNNER)}, not "{what}".'
        )
    timezone = read.settings.race.timezone
    today = today_of(timezone)
    if (
        what in ("ill", "niggle")
        and said["first"] is None
        and said["to"] is not None
        and said["pain"] is None
    ):
        said |= _begun(read, what, who, today, said)
    values = _edit_values(what, who, today, said, _dates_of(read, who))
    found = living.edit(block, values, today=today, now=now_in(timezone))
    whose = "every runner's" if everyone else f"{who}'s"
    tell_of_health(f"{said['reason'] or ''} {values.get('text', '')}", f"it is shown on {whose} page")
    if as_json:
        rows = _rows(found)
        say(json_files.to_text({"version": 1, **({"runners": rows} if everyone else rows[0])}))
        return
    _tell(found, block)
    if "session" in values:
        say(f"Written and accepted. To take it back: planbuilder undo {typed(block)}")
    else:
        raced = what == "result" and values["date"] >= read.settings.race.date
        hold = "" if raced else f" To let these changes hold: planbuilder replan {typed(block)} --accept"
        say(f"Written.{hold}")
        say(f"To take it out again: planbuilder undo {typed(block)}")
    if everyone and "session" in values:
        _tell_the_club(read, str(values["session"]))
    if what == "result":
        _tell_race(block, who, values["date"], read.settings.race.date)
        _ask_after_illness(block, read, who, values["date"])
    if what in ("ill", "niggle") and "to" not in values and "cleared" not in values:
        where = f" --place {values['place']}" if what == "niggle" else ""
        say(
            f'When it is over: planbuilder edit {typed(block)} {what} --runner "{who}"{where} --to YYYY-MM-DD'
        )


def _tell_the_club(block: Block, session: str) -> None:
    """That a night which was moved or called off here is the night of other blocks too."""
    from planbuilder import delivery
    from planbuilder.block.edits import night_date

    date = night_date(session)
    others = delivery.other_blocks_to_tell(block, date) if date is not None else ()
    if others:
        here = [folder if block.folder.is_absolute() else os.path.relpath(folder) for folder in others]
        say(f"Other blocks of this club need the same: {', '.join(map(str, here))}")


def _tell_race(block: Path, name: str, date: dt.date, race_date: dt.date) -> None:
    """Whether a result of race day was taken for the race, and that a later one is for the next block."""
    from planbuilder import living

    if date > race_date:
        say("That is after the race: this plan stays as it was. Give it to the next block as a result.")
        return
    found = living.is_the_race(block, name, date)
    if found:
        say("That is the race: build and publish add debrief.html.")
    elif found is not None:
        say("That is the day of the race, but not its distance: no debrief comes of it.")


def _ask_after_illness(folder: Path, block: Block, name: str, date: dt.date) -> None:
    """Whether an illness is over that is open still, as far as was told, where somebody raced behind it."""
    from planbuilder.block import edits

    ill = edits.open_illness(edits.read_edits(block), block.runners_named(name)[0].key, date)
    if ill is not None and ill.first_day < date:
        end = f'planbuilder edit {typed(folder)} ill --runner "{name}" --to YYYY-MM-DD'
        say(f"The illness from {ill.first_day} is not over, as far as was told. If it is: {end}")


def _begun(block: Block, what: str, name: str, today: dt.date, said: dict[str, Any]) -> dict[str, Any]:
    """What was told of an illness or a niggle whose end is told now; nothing where none is open."""
    from planbuilder.block import edits

    key, edited = block.runners_named(name)[0].key, edits.read_edits(block)
    if what == "niggle":
        sore = edits.open_niggle(edited, key, said["place"] or "", today)
        if sore is None:
            return {}
        cleared = said["cleared"] or sore.cleared
        return {"first": sore.first_day, "pain": sore.pain, "limping": sore.limping, "cleared": cleared}
    ill = edits.open_illness(edited, key, today)
    if ill is None:
        return {}
    return {"first": ill.first_day, "fever": ill.fever if said["fever"] is None else said["fever"]}


def _tell(found: Iterable[Proposal], block: Path) -> None:
    """What changes for each runner, before and after; of several, once whose day a night is not."""
    from planbuilder.outputs.terminal_living import no_days_text, replan_text, without_days

    told, width, here = list(found), width_here(), typed(block)
    several = len(told) > 1
    for one in told:
        answer = without_days(one.answer) if several else one.answer
        say(replan_text(one.name, answer, times=one.times, system=one.units, width=width, block=here))
    if several and (days := no_days_text([(one.name, one.answer) for one in told], width=width)):
        say(days)


def _rows(found: Iterable[Proposal]) -> list[dict[str, Any]]:
    """The same as data."""
    from planbuilder.outputs.terminal_living import replan_json

    return [replan_json(one.key, one.answer, one.times) for one in found]


def _dates_of(block: Block, name: str) -> Callable[[str, str], dt.date]:
    """Finds the day of a session's own week."""

    def find(session: str, weekday: str) -> dt.date:
        from planbuilder import pipeline
        from planbuilder.block.edits import night_date
        from planbuilder.rules.phases import monday_of
        from planbuilder.settings.models import WEEKDAYS

        day, plans = night_date(session), []
        if day is None:
            plans = list(pipeline.plan_all(block, only=name))
            day = next((one.date for plan in plans for one in plan.sessions if one.id == session), None)
        if day is None:
            raise no_session(block.folder, session, plans)
        return monday_of(day) + dt.timedelta(days=[str(one) for one in WEEKDAYS].index(weekday))

    return find


_ABOUT_A_RUNNER = ("away", "easy", "ill", "tired", "niggle", "result", "goal")


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
    if what == "tired":
        return {**stretch, "hours": said["hours"], "worn": True if said["worn"] else None}
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


@click.command()
@click.argument("block", type=FOLDER)
@runner_option
@click.option("--accept", is_flag=True, help="Let the changes hold.")
@json_option
@today_option
def replan(block: Path, runner: str | None, accept: bool, as_json: bool) -> None:
    """What today changes in the days ahead, and why.

    A table of before and after; the past stays.
    """
    from planbuilder import living
    from planbuilder.outputs import json_files, terminal_living

    read = open_block(block, tell_log=False)
    timezone = read.settings.race.timezone
    today = today_of(timezone)
    found = list(living.propose(read, today=today, only=runner))
    written = living.accept(read, found, by="replan", today=today, now=now_in(timezone)) if accept else ()
    if as_json:
        said = {"version": 1, "today": today.isoformat(), "runners": _rows(found)}
        say(json_files.to_text(said))
        return
    shown = [
        replace(one, answer=terminal_living.without_days(one.answer, accepted_only=True)) for one in found
    ]
    telling = [one for one in shown if terminal_living.says_something(one.answer, one.times)]
    _tell(telling, block)
    if silent := [one.name for one in shown if one not in telling]:
        say(terminal_living.unchanged_text(silent, width=width_here()))
    if weather := list(dict.fromkeys(text for one in found for text in one.weather)):
        say(terminal_living.weather_text(weather, system=found[0].units, width=width_here()))
    changed = sum(bool(one.answer.changes) for one in found)
    if accept:
        say(terminal_living.accepted_text([bool(one.answer.changes) for one in written], block=typed(block)))
    elif changed:
        say(f"Nothing is written yet. To let this hold: planbuilder replan {typed(block)} --accept")


@click.command()
@click.argument("block", type=FOLDER)
@runner_option
@today_option
def undo(block: Path, runner: str | None) -> None:
    """Take back what was said last: an edit, or an accepted re-plan."""
    from planbuilder import living
    from planbuilder.outputs.edit_text import taken_back_text

    timezone = open_block(block).settings.race.timezone
    found = living.undo(block, only=runner, today=today_of(timezone), now=now_in(timezone))
    days = [(name, dt.date.fromisoformat(entry.day)) for name, entry in found.accepted]
    say(taken_back_text(days, found.edits, found.left, logged=found.logged, block=typed(block)))


@click.command()
@click.argument("block", type=FOLDER)
@click.argument("name")
@click.option(
    "--everything",
    is_flag=True,
    help="Log, edits, accepted plans, recordings and own routes of the person, not only health.",
)
@click.confirmation_option("--yes", prompt="This cannot be taken back. Go on?")
def forget(block: Path, name: str, everything: bool) -> None:
    """Take out what is kept of the health of NAME, or all of it."""
    from planbuilder import living

    read = open_block(block, tell_log=False)
    now = now_in(read.settings.race.timezone)
    has_row = read.runner_named(name) is not None
    waits = not everything and has_row and living.waits_for_clearance(read, name)
    found = living.forget(block, name, everything=everything, now=now)
    said = (f"{count_of(count, 'entry', 'entries')} of {file}" if count else f"nothing of {file}"
            for file, count in found.items())  # fmt: skip
    say(f"Taken out: {', '.join(said)}.")
    if waits:
        say(f"What waited for a clearance is not marked any more: ask {name} before the next run.")
    if everything:
        row = f"take {name} out of block.toml or the roster, and " if has_row else ""
        say(f"Now {row}publish: the feed goes with it.")
    elif has_row:
        _tell_what_stays(block, name)


def _tell_what_stays(folder: Path, name: str) -> None:
    """What a coach typed of a person's health stands in files that no command writes."""
    read = open_block(folder, tell_log=False)
    runner = read.runners_named(name)[0].settings
    file = read.settings.training.roster or "block.toml"
    places = ", ".join(dict.fromkeys(one.place for one in runner.injuries))
    sore = [f"sore places ({places})"] if places else []
    answers = ["the answer to the health questions"] if runner.screening else []
    notes = ["any notes of yours"] if read.settings.training.roster else []
    if stays := [*sore, *answers, *notes]:
        say(f"What {folder / file} says of {runner.name} stays, for you to take out: {', '.join(stays)}.")
