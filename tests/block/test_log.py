"""log.csv: what is read, what is refused with its line, what is written and never lost."""

from __future__ import annotations

import datetime as dt
import re
import shutil
from pathlib import Path

import pytest

from planbuilder.block import Block, read_block
from planbuilder.block.chat import pasted
from planbuilder.block.log import add_lines, forget_health, forget_lines, register
from planbuilder.block.log_lines import problems_of
from planbuilder.block.log_table import LogLine
from planbuilder.settings.problems import InputProblems
from tests.block.whole_log import read_log

ROOT = Path(__file__).parent.parent.parent
SQUAD = ROOT / "demo_plans" / "rolling-10k"
HEADER = "date,runner,session,went,distance,time,effort,pain,where,note\n"


@pytest.fixture
def block(tmp_path: Path) -> Block:
    return read_block(Path(shutil.copytree(SQUAD, tmp_path / "block")))


def write(block: Block, text: str) -> Block:
    (block.folder / "log.csv").write_text(text, "utf-8")
    return block


def test_a_line_reads_in_metres_and_seconds(block: Block) -> None:
    """10 miles are 16 093.44 m: the international mile of 1959, exactly 1609.344 m."""
    write(block, HEADER + "2027-04-10,Bea K,w01-long,done,10 mi,1:29:30,4,3/10,left calf,windy\n")
    (one,) = read_log(block)
    assert one.runner == "bea-k"
    assert one.done.distance_m == pytest.approx(16_093.44, abs=0.01)
    assert one.done.duration_s == 5370
    assert (one.done.effort_rpe, one.done.pain, one.done.place) == (4, 3, "calf")
    assert one.note == "windy"


def test_an_id_names_day_runner_and_session_and_nothing_of_health(block: Block) -> None:
    row = "2027-04-10,Bea K,w01-long,done,,,,6,knee,\n"
    write(block, HEADER + row + row.replace("6,knee", "2,shin"))
    ids = [one.done.line for one in read_log(block)]
    assert ids == ["log/2027-04-10/bea-k/w01-long", "log/2027-04-10/bea-k/w01-long/2"]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("10/4,Bea K,,,,,,,,", 'date must be a date such as 2027-03-02, not "?10/4'),
        (
            "10/04/2027,Bea K,,,,,,,,",
            r"date must be one day alone \(2027-04-10 or 2027-10-04\), not '10/04/2027'",
        ),
        ("2027-04-10,Bee K,,,,,,,,", 'the runner must be one of .*, not "Bee K". Did you mean "Bea K"'),
        ("2027-04-10,Bea K,,,10,,,,,", "distance must be a distance with its unit"),
        ("2027-04-10,Bea K,,,10 km,90,,,,", "time must be a time such as 1:38:00"),
        ("2027-04-10,Bea K,,,18 km,1:35,,,,", 'the time must be .*, "1:35" is 1 min 35 s. Write 1:35:00'),
        ("2027-06-12,Bea K,w13-race,,,0:48,,,,", 'the time must be .*, "0:48" is 48 s. Write 48:00.'),
        ("9999-12-31,Bea K,,,,,,,,", "date must be a date of the years 1900 to 2200, not 9999-12-31"),
        (f"2027-04-10,Bea K,,,,,,,,{'a' * 2001}", "note must be at most 2,000 letters, not 2,001"),
        ("2027-04-10,Bea K,,,-5 km,,,,,", "distance must be a distance with its unit"),
        ("2027-04-10,Bea K,,,,,11,,,", "effort must be an effort from 0 to 10"),
        ("2027-04-10,Bea K,,,,,,2.5,,", "pain must be a whole number from 0 to 10"),
        ("2027-04-10,Bea K,,maybe,,,,,,", 'went must be one of done, part, missed, not "maybe"'),
        ("2027-04-10,Bea K,,,,,,,,a,b", "a line must have 10 cells at most, not 11"),
        (",Bea K,,,,,,,,", "the date must be given, it is missing"),
    ],
)
def test_a_bad_line_is_named_with_its_line(block: Block, row: str, said: str) -> None:
    write(block, f"# ours\n{HEADER}2027-04-09,Bea K,,,5 km,,,,,\n{row}\n")
    with pytest.raises(InputProblems, match=f"log.csv:4: {said}".replace('"?', "['\"]?")):
        read_log(block)


def test_an_unknown_column_is_named(block: Block) -> None:
    write(block, "date,runner,distanse\n2027-04-10,Bea K,5 km\n")
    with pytest.raises(
        InputProblems, match=r'"distanse" must be a column of the log .*Did you mean "distance"'
    ):
        read_log(block)


def test_semicolons_a_byte_order_mark_and_any_order_of_columns_are_read(block: Block) -> None:
    write(block, "\ufeffrunner;date;distance\nbea-k;2027-04-10;8 km\n")
    (one,) = read_log(block)
    assert one.done.distance_m == 8000


def test_what_stands_in_the_file_keeps_its_bytes_and_missing_columns_are_added(block: Block) -> None:
    before = "date,runner,distance\n# a cold week\n2027-04-10,Bea K,5 km\n"
    write(block, before)
    add_lines(block, [LogLine("2027-04-11", "Bea K", pain="2", where="calf, left")])
    text = (block.folder / "log.csv").read_text()
    assert text.replace(",pain,where", "", 1).startswith(before)
    assert len(read_log(block)) == 2


def test_the_same_line_is_not_written_twice(block: Block) -> None:
    line = LogLine("2027-04-11", "Bea K", distance="8 km")
    assert len(add_lines(block, [line, line])) == 1
    assert add_lines(block, [line]) == ()


def test_nothing_is_written_where_a_line_is_wrong(block: Block) -> None:
    with pytest.raises(InputProblems, match="distance must be"):
        add_lines(block, [LogLine("2027-04-11", "Bea K", distance="far")])
    assert not (block.folder / "log.csv").exists()


def test_no_cell_can_become_a_formula(block: Block) -> None:
    """The rule of the OWASP page on CSV injection: a cell that begins with = + - @ is quoted."""
    add_lines(block, [LogLine("2027-04-11", "Bea K", note="=1+1"), LogLine("2027-04-12", "Bea K", note="-x")])
    assert re.findall(r",'([=-])", (block.folder / "log.csv").read_text()) == ["=", "-"]
    assert [one.note for one in read_log(block)] == ["=1+1", "-x"]


CHAT = """\
[10/04/27, 21:03] Bea: Bea K | w01-long | done | effort 4 | 2027-04-10 | windy out there
21:05 - Odile: great run!
Odile R | w01-easy | missed | 2027-04-10
Sam <3: Sam <3 | w01-club | part | effort 7 | 2027-04-07 | pain 3 left calf | cut it short
"""


def test_a_whole_chat_is_read_as_the_pages_write_it(block: Block) -> None:
    lines = [line for _, line in pasted(CHAT, block).lines]
    assert [(one.runner, one.session, one.went, one.effort, one.date) for one in lines] == [
        ("Bea K", "w01-long", "done", "4", "2027-04-10"),
        ("Odile R", "w01-easy", "missed", "", "2027-04-10"),
        ("Sam <3", "w01-club", "part", "7", "2027-04-07"),
    ]
    assert [(one.pain, one.where, one.note) for one in lines] == [
        ("", "", "windy out there"),
        ("", "", ""),
        ("3", "left calf", "cut it short"),
    ]
    assert len(add_lines(block, lines)) == 3


def test_the_form_is_the_one_that_the_page_sends() -> None:
    """The page's script puts the line together in this order; a change there must be followed here."""
    script = (ROOT / "templates" / "plan.js").read_text()
    order = [
        "plain(form.dataset.runner), current.dataset.id, form.went.value",
        'parts.push("effort "',
        'parts.push("time "',
        "parts.push(form.date.value)",
        'parts.push("pain "',
        "parts.push(plain(form.word.value))",
        'parts.join(" | ")',
    ]
    places = [script.index(part) for part in order]
    assert places == sorted(places)


def test_the_time_of_a_race_or_a_trial_is_read_from_a_pasted_line(block: Block) -> None:
    chat = (
        "Bea K | w05-test | done | effort 9 | time 12:31 over 3000 m | 2027-04-10 | windy\n"
        "Odile R | w08-tune-up | done | time 47:30 | 2027-04-10"
    )
    trial, race = (one.done for one in add_lines(block, [line for _, line in pasted(chat, block).lines]))
    assert (trial.distance_m, trial.duration_s, trial.effort_rpe, trial.date) == (
        3000.0, 751.0, 9.0, dt.date(2027, 4, 10)
    )  # fmt: skip
    assert (race.distance_m, race.duration_s) == (None, 2850.0)


def test_a_first_name_is_enough_in_a_pasted_line_and_its_parts_may_stand_in_any_order(block: Block) -> None:
    chat = (
        "Bea | w01-long | done | 2027-04-10 | effort 4 | good one\n"
        "[21:05] ~ Odile: odile | w01-easy | part | pain 3/10 left calf | 2027-04-10 | effort 2/10\n"
        "\nOdile: sorry coach, no long run today\n"
    )
    found = pasted(chat, block)
    assert not found.problems
    assert [(one.runner, one.date, one.effort, one.pain, one.where, one.note) for _, one in found.lines] == [
        ("Bea K", "2027-04-10", "4", "", "", "good one"),
        ("Odile R", "2027-04-10", "2", "3", "left calf", ""),
    ]
    assert found.plain == 1


def test_an_effort_that_is_none_is_told_and_not_taken_for_a_word(block: Block) -> None:
    ((_, line),) = pasted("Bea K | w01-long | done | effort hard | 2027-04-10", block).lines
    assert line.effort == "hard"
    assert problems_of(block, line, shown_as="pasted lines", number=1)


def test_a_pasted_line_of_nobody_is_named(block: Block) -> None:
    (problem,) = pasted("Nobody | w01-long | done | 2027-04-10", block).problems
    assert str(problem).startswith("pasted lines:1: the line must begin with the name of a runner")


def test_a_register_holds_everyone_but_those_named(block: Block) -> None:
    sessions = {"bea-k": "w01-club", "odile-r": "w01-club"}
    lines = register(block, dt.date(2027, 4, 7), sessions, ["Odile R"])
    assert [(one.runner, one.went) for one in lines] == [("Bea K", "done"), ("Odile R", "missed")]


def test_a_persons_health_can_be_forgotten_and_the_runs_stay(block: Block) -> None:
    text = (
        HEADER + '2027-04-10,Bea K,,done,8 km,,3,4,knee,"long\nword"\n2027-04-10,Odile R,,,5 km,,,2,shin,\n'
    )
    write(block, text)
    (bea, *_) = block.runners
    assert forget_health(block, bea) == 1
    lines = read_log(block)
    assert [one.done.pain for one in lines if one.runner == "bea-k"] == [None]
    assert [one.done.distance_m for one in lines if one.runner == "bea-k"] == [8000]
    assert [one.done.pain for one in lines if one.runner == "odile-r"] == [2]
    assert "knee" not in (block.folder / "log.csv").read_text()
    assert forget_lines(block, bea) == 1
    assert {one.runner for one in read_log(block)} == {"odile-r"}


def test_a_cell_without_end_is_named_with_its_line(block: Block) -> None:
    write(block, HEADER + "2027-04-09,Bea K,,,5 km,,,,,\n2027-04-10,Bea K,,,,,,,," + "a" * 200_000 + "\n")
    with pytest.raises(InputProblems, match=r"log\.csv:3: a cell must be a few words"):
        read_log(block)


def test_a_log_that_a_spreadsheet_saved_is_read_and_goes_on_in_utf_8(block: Block) -> None:
    row = "2027-04-10,Bea K,,,5 km,,,,,öde\n"
    (block.folder / "log.csv").write_bytes((HEADER + row).encode("cp1252"))
    assert [one.note for one in read_log(block)] == ["öde"]
    add_lines(block, [LogLine("2027-04-11", "Bea K")])
    assert row in (block.folder / "log.csv").read_text("utf-8")


@pytest.mark.parametrize("typed", ["6 Dec 2026", "Dec 6, 2026", "2026/12/06", "6th december 2026"])
def test_a_day_that_can_be_one_alone_is_read_in_the_log_and_out_of_a_chat(block: Block, typed: str) -> None:
    write(block, f'{HEADER}"{typed}",Bea K,,done,10 km,,,,,\n')
    (one,) = read_log(block)
    assert (one.done.date, one.done.line) == (dt.date(2026, 12, 6), "log/2026-12-06/bea-k")
    ((_, line),) = pasted(f"Bea K | w01-long | done | effort 3 | {typed}", block).lines
    assert line.date == "2026-12-06"
