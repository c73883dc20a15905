"""What is carried on the day: a card to fold, strips for the wrist, the evening sheet behind them."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from planbuilder.outputs.pages import safety, words
from planbuilder.outputs.pages.environment import render
from planbuilder.outputs.pages.frame import Frame, plan_frame
from planbuilder.outputs.pages.race_views import RaceView, StretchView, race_view
from planbuilder.plan.types import Plan
from planbuilder.units import System

_ROW_CELLS = 13  # clocks in a row of a strip that are still read at arm's length


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
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True)
class CardView:
    """Everything on the card page."""

    frame: Frame
    runner: str
    start: str
    distance: Markup
    race: RaceView
    markers: System
    strips: tuple[Strip, ...]
    has_b: bool
    stations: tuple[Markup, ...]
    general: str


def render_race_card(plan: Plan) -> str:
    """The page ``race-card.html``: made to be printed, cut and folded."""
    return render("race-card.html", page=card_view(plan))


def card_view(plan: Plan) -> CardView:
    """Card, strips and evening sheet, ready to print."""
    race = race_view(plan.race_plan)
    times = {outcome.name: outcome.time for outcome in race.outcomes}
    has_b = any(stretch.clock_b for stretch in race.features)
    strips = [
        strip
        for markers, splits in (("km", race.splits_km), ("mi", race.splits_mi))
        for strip in _strips(splits, "km" if markers == "km" else "mi", race.finish, times.get("B", ""))
    ]
    return CardView(
        frame=plan_frame(plan, title=f"{plan.runner.name}: race card, {plan.race.name}", script="card.js"),
        runner=plan.runner.name,
        start=words.clock(plan.race.start.time()),
        distance=words.length(plan.race.distance_m),
        race=race,
        markers=plan.race.markers,
        strips=tuple(strips),
        has_b=has_b,
        stations=tuple(
            Markup("<b>{}</b> {}").format(words.place(remark.at_m), words.both(remark.text))
            for remark in sorted(plan.remarks, key=lambda remark: remark.at_m)
        ),
        general=safety.GENERAL,
    )


def _strips(
    splits: tuple[StretchView, ...], markers: System, finish_a: str, finish_b: str
) -> tuple[Strip, ...]:
    if not finish_a:
        return ()
    last = len(splits) - 1
    names = ["finish" if number == last else str(number + 1) for number in range(len(splits))]
    strips = [_strip(markers, "A", finish_a, names, [split.clock for split in splits])]
    if finish_b and all(split.clock_b for split in splits):
        strips.append(_strip(markers, "B", finish_b, names, [split.clock_b for split in splits]))
    return tuple(strips)


def _strip(markers: System, plan: str, finish: str, names: list[str], clocks: list[str]) -> Strip:
    cells = [Cell(name, clock) for name, clock in zip(names, clocks, strict=True)]
    rows = -(-len(cells) // _ROW_CELLS)
    in_row = -(-len(cells) // rows)
    return Strip(
        markers=markers,
        plan=plan,
        finish=finish,
        rows=tuple(tuple(cells[start : start + in_row]) for start in range(0, len(cells), in_row)),
    )
