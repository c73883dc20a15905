"""Two club nights a week that leave no day for what the course asks: told once, with what mends it."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from planbuilder import delivery, pipeline
from planbuilder.block import Block, read_block
from planbuilder.outputs.squad import SquadRow, squad_row
from planbuilder.outputs.squad_note import squad_note
from tests.squad.squads import FIRST_DAY, RACE_DAY, write_squad

LINES = ("6 x 5 min threshold, 75 s jog", "20 min tempo", "8 x 3 min, 90 s jog", "10 x 60 s fast, 2 min walk")


def squad_of(folder: Path, days: tuple[int, ...]) -> tuple[Block, list[SquadRow]]:
    """Nobody has a day but the club's and the long run; the nights hold all but climbs and race effort."""
    dates = [FIRST_DAY + dt.timedelta(days=7 * week + day) for week in range(15) for day in days]
    nights = {date: LINES[place % len(LINES)] for place, date in enumerate(dates)}
    names = tuple(("tuesday", "thursday")[(day - 1) // 2] for day in days)
    block = read_block(write_squad(folder, 6, seed=3, nights=nights, days=names))
    few = [
        runner.__class__(
            runner.key, runner.settings.model_copy(update={"days": ("tuesday", "thursday", "sunday")})
        )
        for runner in block.runners
    ]
    block = block.__class__(**{**block.__dict__, "runners": tuple(few)})
    return block, [squad_row(plan) for plan in pipeline.plan_all(block)]


def test_the_note_names_how_many_and_a_line_to_type(tmp_path: Path) -> None:
    block, rows = squad_of(tmp_path, (1, 3))
    kept = [row for row in rows if row.kept_from]
    assert len(kept) >= 3
    note = delivery.note_of(block, rows, len(rows))
    assert note.startswith(f"{len(kept)} of 6 runners come to two club nights a week")
    assert "race effort 4 x 6 min, 2 min jog" in note
    assert re.search(r'"2027-0[34]-\d\d" = "race effort', note)


def test_one_night_a_week_keeps_nobody_from_anything(tmp_path: Path) -> None:
    block, rows = squad_of(tmp_path, (1,))
    assert not any(row.kept_from for row in rows)
    assert delivery.note_of(block, rows, len(rows)) == ""


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        (("climbs",), "the climbs that"),
        (("climbs", "race effort"), "the climbs and the repeats at race effort"),
    ],
)
def test_the_words_say_what_is_lacking(missing: tuple[str, ...], words: str) -> None:
    night = RACE_DAY - dt.timedelta(days=33)
    note = squad_note([(missing, [night]), ((), [night])], 2, RACE_DAY)
    assert words in note
    assert f'"{night}" = "hills 5 x 3 min, jog down"' in note
    assert note.startswith("1 of 2 runners comes")


def test_an_evening_for_which_a_line_stands_is_the_last_example_and_never_its_own() -> None:
    first, second = (RACE_DAY - dt.timedelta(days=days) for days in (40, 33))
    lacking = [(("climbs",), (first, second))] * 2
    other, same = "6 x 3 min, 90 s jog", "hills 5 x 3 min, jog down"
    assert f'"{first}" = ' in squad_note(lacking, 3, RACE_DAY)
    assert f'"{second}" = ' in squad_note(lacking, 3, RACE_DAY, {first: other})
    assert f'"{first}" = ' in squad_note(lacking, 3, RACE_DAY, {first: other, second: same})
    assert 'type "hills' in squad_note(lacking, 3, RACE_DAY, {first: same, second: same})
