"""Files reach the disk whole or not at all."""

from __future__ import annotations

import multiprocessing
import os
import stat
import time
from pathlib import Path

import pytest

from planbuilder.outputs.safe_write import one_writer, write_whole
from planbuilder.settings.problems import CannotWrite


def test_a_new_file_holds_the_bytes_and_folders_are_made(tmp_path: Path) -> None:
    target = tmp_path / "a" / "b" / "plan.ics"
    assert write_whole(target, b"one\r\n")
    assert target.read_bytes() == b"one\r\n"
    assert [file.name for file in target.parent.iterdir()] == ["plan.ics"]


def test_equal_bytes_are_not_written_again(tmp_path: Path) -> None:
    target = tmp_path / "plan.ics"
    write_whole(target, b"one")
    os.utime(target, ns=(1, 1))
    assert not write_whole(target, b"one")
    assert target.stat().st_mtime_ns == 1
    assert write_whole(target, b"two")
    assert target.read_bytes() == b"two"


def test_a_reader_that_opened_the_old_file_reads_it_to_its_end(tmp_path: Path) -> None:
    target = tmp_path / "plan.ics"
    write_whole(target, b"old" * 1000)
    with target.open("rb") as reader:
        reader.read(10)
        write_whole(target, b"new")
        assert len(reader.read()) == 2990


def test_a_secret_is_readable_by_its_owner_alone(tmp_path: Path) -> None:
    target = tmp_path / "secret"
    write_whole(target, b"x", mode=0o600)
    assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_a_folder_in_the_way_is_one_sentence_and_nothing_is_left_over(tmp_path: Path) -> None:
    (tmp_path / "plan.ics").mkdir()
    (tmp_path / "plan.ics" / "inside").write_bytes(b"")
    with pytest.raises(CannotWrite, match=r"plan\.ics: could not be written \(.+\)\.$"):
        write_whole(tmp_path / "plan.ics", b"one")
    assert [file.name for file in tmp_path.iterdir()] == ["plan.ics"]


def test_a_file_where_a_folder_must_be_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "site").write_bytes(b"")
    with pytest.raises(CannotWrite, match="could not be written"):
        write_whole(tmp_path / "site" / "plan.ics", b"one")


def _hold(state: Path, seconds: float) -> None:
    with one_writer(state):
        (state / "held").touch()
        time.sleep(seconds)


def test_a_second_writer_waits_and_gives_up_with_one_sentence(tmp_path: Path) -> None:
    context = multiprocessing.get_context("spawn")
    other = context.Process(target=_hold, args=(tmp_path, 60))
    other.start()
    try:
        end = time.monotonic() + 60
        while not (tmp_path / "held").exists() and time.monotonic() < end:
            time.sleep(0.05)
        with (
            pytest.raises(CannotWrite, match="another planbuilder is writing here"),
            one_writer(tmp_path, patience_s=0.2),
        ):
            pass
    finally:
        other.terminate()
        other.join(30)
    with one_writer(tmp_path, patience_s=5):
        pass


def test_the_holder_may_take_the_lock_again(tmp_path: Path) -> None:
    with one_writer(tmp_path), one_writer(tmp_path, patience_s=0.2):
        pass
    with one_writer(tmp_path, patience_s=0.2):
        pass


def test_trouble_of_who_holds_the_lock_stays_its_own(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match="elsewhere"), one_writer(tmp_path):
        raise FileNotFoundError("elsewhere")
    with one_writer(tmp_path, patience_s=0.2):
        pass
