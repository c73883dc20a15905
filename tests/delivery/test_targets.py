"""Neither a build nor a site may stand where it shows what is private."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest

from planbuilder import delivery
from planbuilder.block import read_block
from planbuilder.settings.problems import InputProblems

NOW = dt.datetime(2027, 2, 20, 12, tzinfo=dt.UTC)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree("demo_plans/late-climb-half", tmp_path / "home" / "block"))


def build(folder: Path, out: Path) -> None:
    list(delivery.build(read_block(folder), out, jobs=1))


def publish(folder: Path, site: Path) -> None:
    delivery.publish_block(read_block(folder), site=site, base_url="https://example.org/run", now=NOW)


@pytest.mark.parametrize("place", [".", "state", "done/pages", "routes"])
def test_neither_is_written_into_the_block(folder: Path, place: str) -> None:
    before = sorted(path.name for path in folder.rglob("*"))
    for write in (build, publish):
        with pytest.raises(InputProblems, match="must be a folder beside the block, or a new one in it"):
            write(folder, folder / place)
    assert sorted(path.name for path in folder.rglob("*")) == before


def test_a_site_stands_neither_above_the_block_nor_beside_the_coachs_own_copy(folder: Path) -> None:
    with pytest.raises(InputProblems, match="must be a folder beside the block"):
        publish(folder, folder.parent)
    build(folder, folder / "out")
    with pytest.raises(InputProblems, match=r"coach\.html stands there, which is for the coach alone"):
        publish(folder, folder / "out")
    (folder / "out" / "coach.html").unlink()
    (folder / "out" / "coach.json").unlink()
    (folder / "out" / "board.csv").unlink()
    with pytest.raises(InputProblems, match=r"maren-t/plan\.json stands there"):
        publish(folder, folder / "out")


def test_the_coachs_own_copy_does_not_stand_in_a_site(folder: Path) -> None:
    publish(folder, folder.parent / "site")
    publish(folder, folder.parent / "site")
    with pytest.raises(InputProblems, match="a site for the web stands there"):
        build(folder, folder.parent / "site")
    build(folder, folder / "out")
    build(folder, folder / "out")
