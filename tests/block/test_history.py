"""The history of accepted plans: it only grows, survives a crash, and reads back exactly."""

from __future__ import annotations

import datetime as dt
import errno
import gc
import json
import multiprocessing
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import replace
from pathlib import Path

import pytest

from planbuilder.block.history import (
    Accepted,
    Basis,
    accepting,
    append,
    forget_runner,
    is_torn,
    read_history,
    undo,
)
from planbuilder.plan.types import Week
from planbuilder.settings.problems import CannotWrite, InputProblems, Problem
from tests.memory import peak_bytes
from tests.outputs.sample_plan import sample_plan

NOW = dt.datetime(2027, 3, 15, 8, tzinfo=dt.UTC)
DAY = dt.date(2027, 3, 15)
WEEKS = sample_plan(units="km").weeks


def lighter(weeks: tuple[Week, ...]) -> tuple[Week, ...]:
    """The same weeks with a little less in the second."""
    first = weeks[1].sessions[0]
    changed = replace(first, duration_s=first.duration_s - 300)
    return (weeks[0], replace(weeks[1], sessions=(changed, *weeks[1].sessions[1:])), *weeks[2:])


def accept(state: Path, weeks: tuple[Week, ...] = WEEKS, runner: str = "ines-a", **values: object) -> None:
    by = "replan" if read_history(state).accepted(runner) else "publish"
    plan = Accepted(runner, weeks, Basis("s", "f"), fresh=by == "publish", **values)  # type: ignore[arg-type]
    append(state, [plan], by=by, block="saltmarsh", day=DAY, now=NOW)  # type: ignore[arg-type]


def test_weeks_are_read_back_exactly_and_a_line_holds_only_what_changed(tmp_path: Path) -> None:
    accept(tmp_path)
    accept(tmp_path, lighter(WEEKS), why="Less in week 2.", lines=("log/2027-03-02/ines-a",))
    history = read_history(tmp_path)
    found = history.accepted("ines-a")
    assert found is not None
    assert found.weeks == lighter(WEEKS)
    assert history.original("ines-a") == WEEKS
    lines = (tmp_path / "history.jsonl").read_text().splitlines()
    assert [len(json.loads(line)["weeks"]) for line in lines] == [len(WEEKS), 1]
    assert history.answered("ines-a") == {"log/2027-03-02/ines-a"}


def test_undo_restores_what_stood_before_and_the_file_only_grows(tmp_path: Path) -> None:
    accept(tmp_path)
    accept(tmp_path, lighter(WEEKS))
    before = (tmp_path / "history.jsonl").read_bytes()
    undo(tmp_path, None, day=DAY, now=NOW)
    history = read_history(tmp_path)
    found = history.accepted("ines-a")
    assert found is not None
    assert found.weeks == WEEKS
    assert (tmp_path / "history.jsonl").read_bytes().startswith(before)
    assert len(history.heads) == 3


def test_the_first_acceptance_cannot_be_undone(tmp_path: Path) -> None:
    accept(tmp_path)
    with pytest.raises(InputProblems, match="must be a change to take back"):
        undo(tmp_path, "ines-a", day=DAY, now=NOW)


def test_two_undos_take_back_two_changes(tmp_path: Path) -> None:
    accept(tmp_path)
    accept(tmp_path, lighter(WEEKS))
    accept(tmp_path, lighter(lighter(WEEKS)))
    undo(tmp_path, "ines-a", day=DAY, now=NOW)
    undo(tmp_path, "ines-a", day=DAY, now=NOW)
    found = read_history(tmp_path).accepted("ines-a")
    assert found is not None
    assert found.weeks == WEEKS


def test_an_undo_without_a_name_takes_back_the_last_version_for_all_it_changed(tmp_path: Path) -> None:
    for runner in ("ines-a", "sam-b", "bea-k"):
        accept(tmp_path, runner=runner)
    both = [Accepted(key, lighter(WEEKS), Basis()) for key in ("ines-a", "sam-b")]
    append(tmp_path, both, by="replan", block="saltmarsh", day=DAY, now=NOW)
    undone = undo(tmp_path, None, day=DAY, now=NOW)
    assert {entry.plan.runner for entry in undone} == {"ines-a", "sam-b"}
    for runner in ("ines-a", "sam-b", "bea-k"):
        found = read_history(tmp_path).accepted(runner)
        assert found is not None
        assert found.weeks == WEEKS


@pytest.mark.parametrize("cut", [1, 7, 400])
def test_a_torn_last_line_is_passed_over_and_repaired_by_the_next_one(tmp_path: Path, cut: int) -> None:
    accept(tmp_path)
    whole = (tmp_path / "history.jsonl").read_bytes()
    accept(tmp_path, lighter(WEEKS))
    path = tmp_path / "history.jsonl"
    path.write_bytes(path.read_bytes()[:-cut])
    torn = read_history(tmp_path)
    assert torn.torn
    assert torn.accepted("ines-a") == read_history(tmp_path).of("ines-a")[0].plan
    accept(tmp_path, lighter(lighter(WEEKS)))
    mended = read_history(tmp_path)
    assert not mended.torn
    assert path.read_bytes().startswith(whole)
    found = mended.accepted("ines-a")
    assert found is not None
    assert found.weeks == lighter(lighter(WEEKS))


def test_a_line_that_is_not_ours_is_named_with_its_number(tmp_path: Path) -> None:
    accept(tmp_path)
    path = tmp_path / "history.jsonl"
    path.write_bytes(path.read_bytes() + b'{"version": 2}\n')
    with pytest.raises(InputProblems, match=r"history\.jsonl:2: the history of accepted plans must be"):
        read_history(tmp_path)


def test_a_forgotten_person_is_gone_from_every_line_and_the_others_stay(tmp_path: Path) -> None:
    accept(tmp_path)
    accept(tmp_path, runner="sam-b")
    accept(tmp_path, lighter(WEEKS), runner="sam-b")
    accept(tmp_path, lighter(WEEKS))
    assert forget_runner(tmp_path, "ines-a")
    assert b"ines-a" not in (tmp_path / "history.jsonl").read_bytes()
    found = read_history(tmp_path).accepted("sam-b")
    assert found is not None
    assert found.weeks == lighter(WEEKS)
    assert not forget_runner(tmp_path, "ines-a")


def _accept_often(state: Path, runner: str) -> None:
    for _ in range(5):
        accept(state, runner=runner)


def test_two_writers_at_once_lose_no_line(tmp_path: Path) -> None:
    """Real processes on one real file."""
    context = multiprocessing.get_context("spawn")
    workers = [context.Process(target=_accept_often, args=(tmp_path, key)) for key in ("ines-a", "sam-b")]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(60)
    assert [worker.exitcode for worker in workers] == [0, 0]
    history = read_history(tmp_path)
    assert [entry.version for entry in history.heads] == list(range(1, 11))


def _peak_bytes(state: Path, runners: int) -> int:
    """The most memory that is held while every plan of a squad is looked at, one after the other."""
    with accepting_at(state) as take:
        for number in range(runners):
            take(Accepted(f"runner-{number}", WEEKS, Basis("s", "f"), fresh=True))

    def look_at_each() -> None:
        history = read_history(state)
        for key in history.runners:
            gc.collect()  # what is only waiting to be collected is not held
            plan = history.accepted(key)
            assert plan is not None
            assert history.ids(key) == {session.id for week in plan.weeks for session in week.sessions}

    return peak_bytes(look_at_each)


def test_a_history_of_any_length_is_read_in_little_memory(tmp_path: Path) -> None:
    """5,000 runners are to be published within 200 MB: 3 kB for each are 15 MB of them."""
    few, many = _peak_bytes(tmp_path / "few", 20), _peak_bytes(tmp_path / "many", 120)
    line = (tmp_path / "many" / "history.jsonl").stat().st_size / 120
    assert line > 10_000, "a plan is much larger than what is held of it"
    assert (many - few) / 100 < 3000


def test_plans_are_accepted_together_or_not_at_all(tmp_path: Path) -> None:
    accept(tmp_path)
    before = (tmp_path / "history.jsonl").read_bytes()
    plans = (Accepted(key, WEEKS, Basis()) if key == "sam-b" else _fails() for key in ("sam-b", "bea-k"))
    with pytest.raises(InputProblems, match="nothing more"):
        append(tmp_path, plans, by="publish", block="saltmarsh", day=DAY, now=NOW)
    assert (tmp_path / "history.jsonl").read_bytes() == before
    with accepting_at(tmp_path) as take:
        take(Accepted("sam-b", WEEKS, Basis()))
        take(Accepted("bea-k", lighter(WEEKS), Basis()))
    history = read_history(tmp_path)
    assert history.runners == ("ines-a", "sam-b", "bea-k")
    assert [head.version for head in history.heads] == [1, 2, 2]


def test_weeks_that_are_not_ours_are_named_with_their_line_when_they_are_read(tmp_path: Path) -> None:
    accept(tmp_path, runner="sam-b")
    accept(tmp_path)
    path = tmp_path / "history.jsonl"
    first, second = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(first + second.replace(b'"sessions"', b'"session"', 1))
    history = read_history(tmp_path)
    assert history.accepted("sam-b") is not None
    with pytest.raises(InputProblems, match=r"history\.jsonl:2: the history of accepted plans must be"):
        history.accepted("ines-a")


def test_a_line_that_moved_under_a_reader_is_not_taken_for_another_runner_s(tmp_path: Path) -> None:
    accept(tmp_path, runner="sam-b")
    accept(tmp_path)
    accept(tmp_path, runner="bea-k")
    history = read_history(tmp_path)
    forget_runner(tmp_path, "sam-b")
    with pytest.raises(InputProblems, match=r"history\.jsonl"):
        history.accepted("ines-a")


def _fails() -> Accepted:
    raise InputProblems([Problem("block.toml", None, "nothing more")])


def accepting_at(state: Path) -> AbstractContextManager[Callable[[Accepted], None]]:
    return accepting(state, by="publish", block="saltmarsh", day=DAY, now=NOW)


def test_a_full_disk_accepts_none_of_several_plans(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    accept(tmp_path)
    before = (tmp_path / "history.jsonl").read_bytes()

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("planbuilder.block.history.os.fsync", full)
    with pytest.raises(CannotWrite, match="No space left"):
        accept(tmp_path, lighter(WEEKS))
    assert (tmp_path / "history.jsonl").read_bytes() == before


def test_a_last_line_that_was_cut_off_is_seen_without_reading_the_file(tmp_path: Path) -> None:
    assert not is_torn(tmp_path)
    accept(tmp_path)
    assert not is_torn(tmp_path)
    path = tmp_path / "history.jsonl"
    path.write_bytes(path.read_bytes()[:-9])
    assert is_torn(tmp_path)
