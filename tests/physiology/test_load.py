"""Foster's monotony and strain, with the cases where they break."""

from __future__ import annotations

import math

import pytest

from planbuilder.physiology.load import week_load
from tests.published.reading import rows


def test_monotony_and_strain_of_the_worked_weeks() -> None:
    for row in rows("foster_week"):
        days = [row[day] for day in ("mon", "tue", "wed", "thu", "fri", "sat", "sun")]
        found = week_load(days)
        assert found.total == row["total"]
        assert found.monotony == pytest.approx(row["monotony"], abs=1e-4)
        assert found.strain == pytest.approx(row["strain"], abs=0.01)


def test_a_real_week_of_a_log() -> None:
    """Week to 2002-09-29 of the table Marathon in the R package Stat2Data, miles a day: 1.1159."""
    assert week_load([0, 7, 13, 6, 8, 5, 26]).monotony == pytest.approx(1.1159, abs=1e-4)


def test_seven_equal_days_are_flagged_and_an_empty_week_is_safe() -> None:
    assert math.isinf(week_load([300] * 7).monotony)
    empty = week_load([0] * 7)
    assert (empty.total, empty.monotony, empty.strain) == (0.0, 0.0, 0.0)


def test_a_week_has_seven_days_without_negative_loads() -> None:
    with pytest.raises(ValueError, match=r"number of daily loads must be 7 to 7 .* not 6"):
        week_load([100] * 6)
    with pytest.raises(ValueError, match=r"daily load must be at least 0 .* not -5"):
        week_load([0, 0, 0, -5, 0, 0, 0])
