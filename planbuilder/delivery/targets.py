"""Where pages may be written: never into the block, and what is shown never beside what is the coach's own.

Receives: the block folder, the folder that was asked for.
Gives: InputProblems where writing there would show to the web what is private, or mix files into the block.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from planbuilder.block import Block
from planbuilder.settings.problems import InputProblems, Problem

_OWN: Final = ("state", "done", "routes")  # folders of the block
_COACHS: Final = ("coach.html", "coach.json", "board.csv")  # what build writes for the coach alone
_SITES: Final = "robots.txt"  # what publish writes and build does not


def allow_build(block: Block, out: Path) -> None:
    """Raises InputProblems where the coach's own copy would stand in the block or in a published site."""
    _not_the_block(block, out, "--out", above=True)
    if (out / _SITES).exists():
        raise _problem(out, "--out must be a folder of its own", "a site for the web stands there")


def allow_publish(block: Block, site: Path) -> None:
    """Raises InputProblems where a site would show the block or the coach's own copy."""
    _not_the_block(block, site, "--to", above=False)
    private = [name for name in _COACHS if (site / name).exists()]
    private += [path.relative_to(site).as_posix() for path in site.glob("*/plan.json")]
    if private:
        found = f"{private[0]} stands there, which is for the coach alone"
        raise _problem(site, "--to must be a folder that holds nothing private", found)


def _not_the_block(block: Block, target: Path, option: str, *, above: bool) -> None:
    home, place = block.folder.resolve(), target.resolve()
    inside = any(place.is_relative_to(home / name) for name in _OWN)
    if place == home or inside or (home.is_relative_to(place) and not above):
        raise _problem(
            target, f"{option} must be a folder beside the block, or a new one in it", "this is not"
        )


def _problem(folder: Path, must: str, found: str) -> InputProblems:
    return InputProblems([Problem(str(folder), None, must, found, "Name another folder.")])
