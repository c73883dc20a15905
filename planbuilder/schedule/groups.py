"""Pace groups for a club night.

Receives: the threshold pace of everybody who runs the group's session.
Gives: groups that are narrow enough to run together and large enough to be one, quickest first.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from planbuilder.settings.limits import Limits

Athlete = tuple[float, str]  # threshold pace in s/km, key


@dataclass(frozen=True, slots=True)
class PaceGroup:
    """Runners who run together, and the threshold paces the group is for."""

    number: int  # 1 for the quickest
    fast_s_per_km: float
    slow_s_per_km: float  # overlaps with the quick end of the next group
    keys: tuple[str, ...]  # quickest first


def pace_groups(
    paces_s_per_km: Mapping[str, float], limits: Limits, *, slower_at_the_border: bool = False
) -> tuple[PaceGroup, ...]:
    """Groups by threshold pace; the order of the mapping changes nothing.

    Groups are as few as width and size allow; a group below the usual size stands only where nobody else is
    near enough. ``slower_at_the_border`` (hills, heat) moves whoever stands on a border to the slower group.

    >>> from planbuilder.settings.limits import default_limits
    >>> squad = {name: 240.0 + 5 * place for place, name in enumerate("abcdefgh")}
    >>> [group.keys for group in pace_groups(squad, default_limits())]
    [('a', 'b', 'c', 'd'), ('e', 'f', 'g', 'h')]
    """
    athletes = sorted((pace, key) for key, pace in paces_s_per_km.items())
    parts = _cut(athletes, limits)
    if slower_at_the_border:
        parts = _moved(parts, limits)
    narrow, _ = limits.numbers("squad.band_width")
    overlap = limits.number("squad.band_overlap")
    found = []
    for place, part in enumerate(parts):
        fast = part[0][0]
        slow = max(part[-1][0], fast + narrow)
        if place + 1 < len(parts) and parts[place + 1][0][0] - slow < overlap:
            slow = max(part[-1][0], parts[place + 1][0][0] + overlap)
        found.append(PaceGroup(place + 1, fast, slow, tuple(key for _, key in part)))
    return tuple(found)


def _cut(athletes: Sequence[Athlete], limits: Limits) -> list[list[Athlete]]:
    """The cheapest way to cut the line into groups: first few small ones, then few, then even ones."""
    _, wide = limits.numbers("squad.band_width")
    fewest, most = (int(number) for number in limits.numbers("squad.group_size"))
    best: list[tuple[tuple[int, int, float], int]] = [((0, 0, 0.0), 0)]
    for end in range(1, len(athletes) + 1):
        options = []
        for begin in range(max(0, end - most), end):
            if athletes[end - 1][0] - athletes[begin][0] > wide:
                continue
            small, count, uneven = best[begin][0]
            size = end - begin
            options.append(((small + max(0, fewest - size), count + 1, uneven + size * size), begin))
        best.append(min(options))
    parts: list[list[Athlete]] = []
    end = len(athletes)
    while end:
        begin = best[end][1]
        parts.insert(0, list(athletes[begin:end]))
        end = begin
    return parts


def _moved(parts: list[list[Athlete]], limits: Limits) -> list[list[Athlete]]:
    """Whoever is within the overlap of the next group's quick end joins it, where it can take them."""
    _, wide = limits.numbers("squad.band_width")
    fewest, most = limits.numbers("squad.group_size")
    overlap = limits.number("squad.band_overlap")
    for near, slower in pairwise(parts):
        border = slower[0][0]
        while (
            len(near) > fewest
            and len(slower) < most
            and border - near[-1][0] <= overlap
            and slower[-1][0] - near[-1][0] <= wide
        ):
            slower.insert(0, near.pop())
    return parts
