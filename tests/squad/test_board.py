"""The board: who runs what, on which whistle, in which group; nothing of health, no surname."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder import delivery, pipeline
from planbuilder.block import Block, read_block
from planbuilder.outputs.night_text import night_text
from planbuilder.outputs.pages.night_view import night_view
from planbuilder.outputs.squad import ClubLine, SquadRow, night_sheets, own_line, squad_row
from planbuilder.plan.types import Plan
from planbuilder.rules import load_library
from planbuilder.rules.typed_night import read_night
from planbuilder.settings.limits import default_limits
from tests.outputs.squad_pages import board_page
from tests.squad.squads import write_squad

HEALTH = r"\b(calf|knee|hip|sore|pain|injur\w*|illness|health|screening|cleared|weight|missed)\b"


@pytest.fixture(scope="module")
def squad(tmp_path_factory: pytest.TempPathFactory) -> tuple[Block, list[Plan]]:
    block = read_block(write_squad(tmp_path_factory.mktemp("board"), 16, seed=21))
    return block, list(pipeline.plan_all(block))


def text_of(page: str) -> str:
    body = re.sub(r"<(style|script)>.*?</\1>", "", page, flags=re.S)
    return re.sub(r"<[^>]+>", " ", body)


def test_nothing_of_health_stands_on_the_board(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    assert any(runner.settings.injuries for runner in block.runners)
    assert not re.search(HEALTH, text_of(board_page(plans)), re.IGNORECASE)


def test_names_are_a_first_name_and_an_initial(squad: tuple[Block, list[Plan]]) -> None:
    _, plans = squad
    named = replace(plans[0], runner=replace(plans[0].runner, name="Ines Almeida"))
    page = text_of(board_page([named]))
    assert "Ines A" in page
    assert "Almeida" not in page


def test_a_session_changed_for_a_private_reason_is_the_runners_own(squad: tuple[Block, list[Plan]]) -> None:
    _, plans = squad
    week = plans[0].weeks[3]
    sessions = tuple(replace(one, private_note="left calf", title="Walk and run") for one in week.sessions)
    changed = replace(plans[0], weeks=(replace(week, sessions=sessions),))
    page = text_of(board_page([changed]))
    assert "Own session" in page
    assert "Walk and run" not in page


def test_a_sheet_holds_everybody_who_comes_once(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    rows = [squad_row(plan) for plan in plans]
    for sheet in night_sheets(rows, block.limits):
        listed = [
            row.key
            for part in (*(group.members for group in sheet.groups), sheet.by_effort, sheet.own)
            for row, _ in part
        ]
        comes = [row.key for row in rows if any(line.date == sheet.date for line in row.nights)]
        assert sorted(listed) == sorted(comes)
        assert sheet.comes == len(comes)


def test_groups_are_those_of_the_threshold_paces_of_who_runs_the_session(
    squad: tuple[Block, list[Plan]],
) -> None:
    block, plans = squad
    rows = [squad_row(plan) for plan in plans]
    sheets = night_sheets(rows, block.limits)
    assert sum(bool(sheet.groups) for sheet in sheets) >= 8
    for sheet in sheets:
        for group in sheet.groups:
            for row, line in group.members:
                assert row.threshold_s_per_km is not None
                assert group.fast_s_per_km <= row.threshold_s_per_km <= group.slow_s_per_km
                assert sheet.lead is not None
                assert line.first_s == sheet.lead.first_s
                assert line.repeats <= sheet.lead.repeats


def test_a_squad_above_the_rows_of_a_board_keeps_its_nights(squad: tuple[Block, list[Plan]]) -> None:
    _, plans = squad
    row = squad_row(plans[0], with_weeks=False)
    assert not row.entries
    assert row.nights == squad_row(plans[0]).nights


def test_a_published_board_says_what_this_publish_changed_and_by_initials_only(tmp_path: Path) -> None:
    folder, site = write_squad(tmp_path / "block", 2, seed=22), tmp_path / "site"
    roster = folder / "roster.csv"
    roster.write_text(roster.read_text("utf-8").replace(" A,", " Almeida,", 1), "utf-8")
    now = dt.datetime(2027, 1, 20, 12, tzinfo=dt.UTC)

    def board() -> str:
        delivery.publish_block(read_block(folder), site=site, base_url="https://example.org/run", now=now)
        pages = [page.read_text("utf-8") for page in site.rglob("index.html")]
        return next(page for page in pages if 'class="board"' in page)

    assert "What changed" not in board()
    block = folder / "block.toml"
    block.write_text(block.read_text("utf-8").replace('time = "19:00"', 'time = "18:45"'), "utf-8")
    (folder / "state" / "history.jsonl").unlink()  # nothing accepted: the plan follows the settings again
    told = board()
    news = text_of(told.split('class="news"')[1].split("</section>")[0])
    assert "What changed since the last publish" in news
    assert "18:45" in news
    assert "Almeida" not in told


LINE = ClubLine(
    date=dt.date(2027, 3, 2),
    start=dt.time(19),
    place="",
    kind="group_easy",
    title="Easy run with the group",
    first_s=0.0,
    repeats=0,
    repeat_s=0.0,
    recovery_s=0.0,
    duration_s=2700.0,
    effort_rpe=(2.0, 3.0),
    pace_s_per_km=None,
    uphill=False,
)


def test_a_line_of_ones_own_says_when_it_ends_and_a_night_may_end_behind_midnight() -> None:
    line = replace(
        LINE,
        start=dt.time(23, 30),
        kind="intervals",
        title="Intervals",
        first_s=1200.0,
        repeats=3,
        repeat_s=180.0,
        recovery_s=90.0,
        duration_s=2520.0,
        effort_rpe=(8.0, 9.0),
        ends_s=2520.0,
        grouped=True,
    )
    easy = replace(line, kind="group_easy", title="Easy run with the group", repeats=0, grouped=False)
    sooner, later = replace(easy, duration_s=1500.0), replace(easy, duration_s=3000.0)
    parts = (("Ada", line), ("Bo", sooner), ("Cy", later))
    rows = [SquadRow(name, name, "Race", "km", None, (), (part,)) for name, part in parts]
    (sheet,) = night_sheets(rows, default_limits())
    assert sheet.ends == dt.time(0, 12)
    assert [own_line(sheet, one) for _, one in sheet.own] == [
        "easy run with the group, 25 min to 23:55",
        "easy run with the group, 50 min, the last 8 min alone",
    ]
    text = night_text(sheet, line="", typed=False, system="km")
    assert "Own session, same start and end\n  Bo: easy run with the group, 25 min to 23:55\n" in text
    own_plans = [replace(row, nights=(replace(row.nights[0], ends_s=None),)) for row in rows]
    (sheet,) = night_sheets(own_plans, default_limits())
    assert "Own session, same start\n" in night_text(sheet, line="", typed=False, system="km")


def test_a_few_who_work_on_an_easy_night_are_no_group_and_a_night_nobody_holds_says_so() -> None:
    hills = replace(LINE, kind="long_hill_reps", title="Long hill repeats", repeats=4, repeat_s=240.0)
    rows = [
        SquadRow(name, name, "Race", "km", None, (), (line,))
        for name, line in (("Ada", hills), ("Bo", LINE), ("Cleo", LINE))
    ]
    (sheet,) = night_sheets(rows, default_limits())
    assert sheet.lead is None
    assert sheet.title == "Easy run with the group"
    text = night_text(sheet, line="easy 6 miles", typed=True, system="km", easy=True)
    assert "(as typed)" in text
    text = night_text(sheet, line="8 x 3 min", typed=True, system="km")
    assert "nobody's week holds what was typed" in text
    together = [replace(row, nights=(replace(row.nights[0], grouped=row.name == "Ada"),)) for row in rows]
    (sheet,) = night_sheets(together, default_limits())
    assert sheet.title == "Long hill repeats"


def test_the_effort_of_a_night_holds_that_of_all_who_share_the_whistle() -> None:
    """On a board of several races the repeats at race effort are run at the effort of each one's own race."""
    work = replace(LINE, kind="goal_repeats", title="Race-effort repeats", repeats=4, repeat_s=240.0)
    efforts = {"Ada": (8.0, 8.0), "Bo": (6.0, 7.0)}
    rows = [
        SquadRow(name, name, "Race", "km", None, (), (replace(work, grouped=True, effort_rpe=effort),))
        for name, effort in efforts.items()
    ]
    (sheet,) = night_sheets(rows, default_limits())
    assert sheet.lead is not None
    assert sheet.lead.effort_rpe == (6.0, 8.0)
    assert "effort 6–8;" in night_text(sheet, line="", typed=False, system="km")


def test_no_two_runners_share_a_name_on_a_sheet_or_a_board(squad: tuple[Block, list[Plan]]) -> None:
    block, plans = squad
    names = ["Tom Baker", "Tom Bates", *(f"Ann {letter}" for letter in "CDEFGHIJKLMNOP")]
    named = [
        replace(plan, runner=replace(plan.runner, name=name)) for plan, name in zip(plans, names, strict=True)
    ]
    page = text_of(board_page(named))
    assert "Tom Bak" in page
    assert "Tom Bat" in page
    assert not re.search(r"Tom B\b|Baker|Bates|Ann C\w", page)
    for sheet in night_sheets([squad_row(plan) for plan in named], block.limits):
        parts = [*(group.members for group in sheet.groups), sheet.by_effort, sheet.own]
        listed = [row.name for part in parts for row, _ in part]
        assert len(set(listed)) == len(listed)


NIGHT = read_night("threshold 4 x 6 min, 90 s jog", name="n", library=load_library(), limits=default_limits())
THREE = replace(
    LINE,
    kind="threshold_repeats",
    title="Threshold repeats",
    first_s=1200.0,
    repeats=3,
    repeat_s=360.0,
    recovery_s=90.0,
    duration_s=3390.0,
    effort_rpe=(6.0, 7.0),
    ends_s=3390.0,  # 20 min, 4 x 6 min and the jogs between them, 8 min: as long as the night was thought of
    grouped=True,
)


def test_a_sheet_announces_no_repeats_that_nobody_runs_and_the_whistle_of_the_plans() -> None:
    """Most of the squad do 3 of the 4 that were proposed, and jog on until the group cools down."""
    two = replace(THREE, repeats=2)
    rows = [
        SquadRow(name, name, "Race", "km", 270.0, (), (line,)) for name, line in (("Ada", THREE), ("Bo", two))
    ]
    (sheet,) = night_sheets(rows, default_limits(), {LINE.date: NIGHT.as_proposed()})
    assert sheet.lead is not None
    assert sheet.lead.repeats == 3
    shape = [(clock, str(words)) for clock, words in night_view(sheet).shape]
    assert not any("4 ×" in words for _, words in shape)
    cool_down_s = default_limits().number("squad.cool_down") * 60
    last = (dt.datetime.combine(LINE.date, LINE.start) + dt.timedelta(seconds=3390 - cool_down_s)).time()
    assert sheet.last_s == 3390 - cool_down_s
    assert shape[2] == (f"{last:%H:%M}", "last whistle, cool-down together; who is done jogs until then")


def test_a_night_on_which_most_do_the_same_of_their_own_is_called_by_that() -> None:
    touch = replace(LINE, kind="race_touch", title="Short touch of race effort", repeats=2, repeat_s=60.0)
    lines = [replace(touch, first_s=600.0 + 60 * number) for number in range(3)]
    rows = [
        SquadRow(str(number), str(number), "Race", "km", None, (), (line,))
        for number, line in enumerate([*lines, LINE])
    ]
    easy = replace(NIGHT, template=load_library().template("group_easy"), proposed=True)
    for nights in ({}, {LINE.date: easy}):
        (sheet,) = night_sheets(rows, default_limits(), nights)
        assert sheet.lead is None
        assert sheet.title == "Short touch of race effort"
    (sheet,) = night_sheets(rows, default_limits(), {LINE.date: replace(easy, proposed=False)})
    assert sheet.title == "Easy run with the group"
