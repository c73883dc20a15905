"""The demo half marathon with its plan accepted on the first day: where tests of a living plan begin."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

from planbuilder import delivery
from planbuilder.block import read_block

HALF = Path(__file__).parent.parent / "demo_plans" / "late-climb-half"
FIRST = dt.date(2027, 3, 1)
DAY = dt.timedelta(days=1)
WHO = "Maren T"


def noon(day: dt.date) -> dt.datetime:
    """When people of the tests do things."""
    return dt.datetime.combine(day, dt.time(12), dt.UTC)


def copied_half(home: Path) -> Path:
    """The block folder alone."""
    return Path(shutil.copytree(HALF, home / "block"))


def accepted_half(home: Path) -> Path:
    """The block folder, its plan accepted."""
    folder = copied_half(home)
    accept_first(folder)
    return folder


def accept_first(folder: Path) -> None:
    """Accept the plan of a block on its first day."""
    delivery.accept_as_they_stand(read_block(folder), now=noon(FIRST))
