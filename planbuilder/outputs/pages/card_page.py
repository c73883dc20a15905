"""What is carried on the day: a card to fold, strips for the wrist, the evening sheet behind them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.pages import safety, words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, plan_frame
from planbuilder.outputs.pages.race_views import RaceView, StretchView, race_as_planned, slower_share
from planbuilder.plan.types import Plan
from planbuilder.race.types import RacePlan
from planbuilder.units import System, say_time

# Clocks in a row of a strip that are still read at arm's length: few and large, or a marathon's worth.
_LARGE_ROW, _SMALL_ROW = 8, 10
_LARGE_CELLS = 30
# Stretches that a card of this size holds in letters of that size.
_LETTERS = ((4, "large"), (5, "middle"), (9, "small"), (1000, "least"))


@dataclass(frozen=True, slots=True)
class Cell:
    """One marker at the roadside."""

    marker: str
    clock: str


@dataclass(frozen=True, slots=True)
class Strip:
    """A strip for the wrist."""

    markers: System
    plan: str  # A or B
    finish: str
    letters: str
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class CardLine:
    """A stretch on the card: what is read at speed, and what is read before."""

    name: Markup
    where: Markup
    large: str  # clock at its end, or the effort where there is no clock
    small: Markup


@dataclass(frozen=True, slots=True)
class Side:
    """Half of the card: one of the plans."""

    plan: str
    time: str
    text: Markup  # how this plan is run, where no clock tells it from plan A
    lines: tuple[CardLine, ...]
    cues: tuple[Markup, ...]
    places: tuple[tuple[str, Markup], ...]  # where to look at the watch, to eat, to drink


@dataclass(frozen=True, slots=True)
class CardView:
    """Everything on the card page."""

    frame: Frame
    runner: str
    start: str
    race: RaceView
    markers: System
    sides: tuple[Side, ...]
    strips: tuple[Strip, ...]
    letters: str  # size of the letters that lets all stretches stand on the card
    beside: str  # what stands beside a stretch, in the words of the card's own head
    stations: tuple[Markup, ...]
    general: str


def render_race_card(plan: Plan) -> str:
    """The page ``race-card.html``: made to be printed, cut and folded."""
    return render("race-card.html", page=card_view(plan))


def card_view(plan: Plan) -> CardView:
    """Card, strips and evening sheet, ready to print."""
    race = race_as_planned(plan)
    letters = next(letters for most, letters in _LETTERS if len(race.features) <= most)
    return CardView(
        frame=plan_frame(plan, title=f"{plan.runner.name}: race card, {plan.race.name}", script="card.js"),
        runner=plan.runner.name,
        start=words.clock(plan.race.start.time()),
        race=race,
        markers=plan.race.markers,
        sides=_sides(race, finishing=plan.race_plan.for_finishing),
        strips=(*_strips(plan.race_plan, "km"), *_strips(plan.race_plan, "mi")) if race.outcomes else (),
        letters=letters,
        beside=_beside(race, letters),
        stations=tuple(
            Markup("<b>{}</b> {}").format(words.place(remark.at_m), words.both(remark.text))
            for remark in sorted(plan.remarks, key=lambda remark: remark.at_m)
        ),
        general=safety.GENERAL,
    )


def _beside(race: RaceView, letters: str) -> str:
    """What the figures of the card are; the smallest letters leave no room for effort and pace."""
    if not any(stretch.clock for stretch in race.features):
        return "effort, 0 to 10"
    return "clock at its end" if letters == "least" else "clock, effort, pace"


def _sides(race: RaceView, *, finishing: bool) -> tuple[Side, ...]:
    """Plan A with its cues, plan B with the places where something has to be done.

    Plan B has the stretches of plan A at other clocks; without a clock it is a sentence. Where the line
    is the goal, plan C alone, its words behind the fold.
    """
    points = [Markup("<b>{}</b> {}").format(point.where, point.clocks) for point in race.decisions]
    intakes = [Markup("<b>{}</b>").format(intake.where) for intake in race.intakes]
    check = "Look at the watch" if any(stretch.clock for stretch in race.features) else "Check the effort"
    places = ((check, points), ("Eat and drink", intakes))
    second = tuple((title, Markup("; ").join(lines)) for title, lines in places if lines)
    if finishing:
        (only,) = race.outcomes
        lines = tuple(_line(stretch, second=False) for stretch in race.features)
        front = Side(only.name, "", Markup(""), lines, race.cues, ())
        return (front, Side("", "", Markup(""), (), (only.text,), second))
    contents = ((race.cues, ()), ((), second))
    return tuple(
        Side(
            plan=outcome.name,
            time=outcome.time,
            text=outcome.text if place == 1 and not outcome.time else Markup(""),
            lines=tuple(_line(stretch, second=place == 1) for stretch in race.features)
            if place == 0 or outcome.time
            else (),
            cues=cues,
            places=places,
        )
        for place, (outcome, (cues, places)) in enumerate(zip(race.outcomes, contents, strict=False))
    )


def _line(stretch: StretchView, *, second: bool) -> CardLine:
    clock = stretch.clock_b if second else stretch.clock
    if not clock:
        return CardLine(stretch.name, stretch.where, stretch.effort, Markup("effort"))
    at = stretch.pace_b if second else stretch.pace
    pace = Markup(", {}").format(at) if at else Markup("")
    return CardLine(stretch.name, stretch.where, clock, Markup("{}{}").format(stretch.effort, pace))


def _strips(plan: RacePlan, markers: System) -> Iterator[Strip]:
    """Plan A and, where it has a clock, plan B, at every marker and at the line."""
    splits = plan.splits_km if markers == "km" else plan.splits_mi
    clocks = [split.clock_s for split in splits if split.clock_s is not None]
    if not clocks or len(clocks) < len(splits):
        return
    share_b = slower_share(plan)
    for name, share in (("A", 1.0), ("B", share_b)):
        if share is not None:
            yield _strip(markers, name, [say_time(clock * share) for clock in clocks])


def _strip(markers: System, plan: str, clocks: list[str]) -> Strip:
    last = len(clocks) - 1
    cells = [
        Cell("finish" if number == last else str(number + 1), clock) for number, clock in enumerate(clocks)
    ]
    large = len(cells) <= _LARGE_CELLS
    rows = -(-len(cells) // (_LARGE_ROW if large else _SMALL_ROW))
    in_row = -(-len(cells) // rows)
    return Strip(
        markers=markers,
        plan=plan,
        finish=clocks[-1],
        letters="large" if large else "small",
        rows=tuple(tuple(cells[start : start + in_row]) for start in range(0, len(cells), in_row)),
    )
