"""Days as people write them: read where they can be one day alone, everywhere a day is typed."""

from __future__ import annotations

import datetime as dt

import click
import pytest

from planbuilder.cli.options import DATE
from planbuilder.settings.models import read_date


@pytest.mark.parametrize(
    "typed",
    [
        *(
            "2026-12-25",
            "2026/12/25",
            "25/12/2026",
            "12/25/2026",
            "25.12.2026",
            "25 Dec 2026",
            "Dec 25, 2026",
        ),
        *("25th december 2026", " 2026-12-25 ", "20261225"),
    ],
)
def test_a_day_that_can_be_one_alone_is_read(typed: str) -> None:
    assert read_date(typed) == DATE.convert(typed, None, None) == dt.date(2026, 12, 25)


@pytest.mark.parametrize(
    "typed", ["25 Dec", "2026-02-30", "30/02/2026", "25 Foo 2026", "w07-long", "", "99/99/2026"]
)
def test_what_is_no_day_is_refused_with_an_example(typed: str) -> None:
    with pytest.raises(ValueError, match="a date such as 2027-05-16, not "):
        read_date(typed)


def test_what_may_be_two_days_is_refused_with_both() -> None:
    with pytest.raises(ValueError, match=r"one day alone \(2026-12-06 or 2026-06-12\), not '6/12/2026'"):
        read_date("6/12/2026")
    with pytest.raises(click.BadParameter, match="must be one day alone"):
        DATE.convert("6/12/2026", None, None)
