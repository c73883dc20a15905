"""Pace groups: 10 to 20 s/km wide, 4 to 12 runners, bands overlap by 5 s (common practice, no source)."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from planbuilder.schedule.groups import pace_groups
from planbuilder.settings.limits import default_limits

LIMITS = default_limits()
SQUADS = st.dictionaries(st.text("abcdefghij", min_size=1, max_size=4), st.floats(180, 420), max_size=60)


@given(SQUADS, st.booleans())
def test_everybody_is_in_one_group_that_is_narrow_and_not_too_large(
    squad: dict[str, float], border: bool
) -> None:
    groups = pace_groups(squad, LIMITS, slower_at_the_border=border)
    assert sorted(key for group in groups for key in group.keys) == sorted(squad)
    for group in groups:
        paces = [squad[key] for key in group.keys]
        assert paces == sorted(paces)
        assert max(paces) - min(paces) <= 20
        assert len(paces) <= 12
        assert group.fast_s_per_km <= min(paces)
        assert max(paces) <= group.slow_s_per_km
    for quick, slow in pairwise(groups):
        assert max(squad[key] for key in quick.keys) <= min(squad[key] for key in slow.keys)


@given(SQUADS)
def test_the_order_of_the_squad_changes_nothing(squad: dict[str, float]) -> None:
    assert pace_groups(squad, LIMITS) == pace_groups(dict(reversed(squad.items())), LIMITS)


def test_an_evenly_spread_squad_makes_groups_of_the_usual_size_with_overlapping_bands() -> None:
    squad = {f"r{place:02d}": 220.0 + 2.5 * place for place in range(48)}
    groups = pace_groups(squad, LIMITS)
    assert all(4 <= len(group.keys) <= 12 for group in groups)
    for quick, slow in pairwise(groups):
        assert quick.slow_s_per_km - slow.fast_s_per_km == pytest.approx(5.0, abs=0.01)
    assert all(10 <= group.slow_s_per_km - group.fast_s_per_km <= 25.01 for group in groups)


def test_on_a_hill_the_border_runs_with_the_slower_group() -> None:
    squad = {f"a{place}": 240.0 + place for place in range(5)} | {
        f"b{place}": 262.0 + place for place in range(4)
    }
    squad["edge"] = 258.0
    flat = next(group for group in pace_groups(squad, LIMITS) if "edge" in group.keys)
    hill = next(
        group for group in pace_groups(squad, LIMITS, slower_at_the_border=True) if "edge" in group.keys
    )
    assert hill.number == 2
    assert flat.number in (1, 2)
    assert {"b0", "b1", "b2", "b3"} <= set(hill.keys)


def test_a_lone_quick_runner_is_a_group_and_not_dragged_back() -> None:
    squad = {f"a{place}": 300.0 + place for place in range(6)} | {"quick": 200.0}
    assert pace_groups(squad, LIMITS)[0].keys == ("quick",)
