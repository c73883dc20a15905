"""Stretches of work and the recoveries between them, as a coach says them.

Receives: pairs of seconds, a stretch of work and the recovery behind it, in the order they are run.
Gives: words.
"""

from __future__ import annotations

from collections.abc import Sequence

from planbuilder.rules.doses import round_recovery
from planbuilder.units import say_minutes

Stretches = Sequence[tuple[float, float]]


def lasts_s(stretches: Stretches) -> float:
    """Seconds from the first stretch to the end of the last.

    >>> lasts_s([(60, 90), (120, 90)])
    270
    """
    return sum(work + rest for work, rest in stretches) - (stretches[-1][1] if stretches else 0.0)


def row_words(stretches: Stretches, *, rests: bool = True) -> str:
    """The shape of a night, or of a runner's part in it; ``rests`` False leaves the recoveries out.

    >>> row_words([(60, 90), (120, 90), (180, 90), (120, 90), (60, 0)])
    '1, 2, 3, 2, 1 min, 90 s between'
    >>> row_words([(1200, 180), (30, 90), (30, 90), (30, 0)])
    '20 min, then after 3 min 3 × 30 s, 90 s between'
    >>> sets = [(45, 30), (45, 30), (45, 180), (45, 30), (45, 30), (45, 0)]
    >>> row_words(sets), row_words(sets, rests=False)
    ('2 sets of 3 × 45 s, 30 s between, 3 min between sets', '2 sets of 3 × 45 s')
    """
    works = [work for work, _ in stretches]
    inside = [rest for _, rest in stretches[:-1]]
    if len(set(works)) > 2 and len(inside) > 1:
        as_long = all(rest == round_recovery(work) for work, rest in zip(works, inside, strict=False))
        if len(set(inside)) == 1 or as_long:
            between = (
                f"{say_minutes(inside[0])} between" if len(set(inside)) == 1 else "each recovery as long"
            )
            return _ladder(works) + (f", {between}" if rests else "")
    return _sets(stretches, rests=rests) or _parts(stretches, rests=rests)


def _ladder(works: Sequence[float]) -> str:
    if len(set(works)) == 1:
        return f"{len(works)} × {say_minutes(works[0])}" if len(works) > 1 else say_minutes(works[0])
    if all(work % 60 == 0 for work in works):
        return f"{', '.join(f'{work / 60:g}' for work in works)} min"
    return ", ".join(say_minutes(work) for work in works)


def _sets(stretches: Stretches, *, rests: bool) -> str:
    """The words of equal sets, or of equal repeats; nothing where they are not equal."""
    for size in range(1, len(stretches) // 2 + 1):
        sets = [stretches[at : at + size] for at in range(0, len(stretches), size)]
        alike = {(*part[:-1], part[-1][0]) for part in sets}
        between = {part[-1][1] for part in sets[:-1]}
        if len(alike) > 1 or len(between) > 1:
            continue
        works = [work for work, _ in sets[0]]
        pause = f", {say_minutes(between.pop())} between" if rests else ""
        if size == 1:
            return f"{len(sets)} × {say_minutes(works[0])}{pause}"
        within = {rest for _, rest in sets[0][:-1]}
        inner = f", {say_minutes(within.pop())} between" if rests and len(within) == 1 else ""
        return f"{len(sets)} sets of {_ladder(works)}{inner}{f'{pause} sets' if rests else ''}"
    return ""


def _parts(stretches: Stretches, *, rests: bool) -> str:
    """Runs of equal stretches one after the other; what stands behind the last of a run may differ."""
    found: list[list[tuple[float, float]]] = [[]]
    for work, rest in stretches:
        here = found[-1]
        if here and (work != here[-1][0] or (len(here) > 1 and here[-1][1] != here[-2][1])):
            found.append([])
        found[-1].append((work, rest))
    words = []
    for part in found:
        inner = f", {say_minutes(part[0][1])} between" if rests and len(part) > 1 else ""
        words.append(_ladder([work for work, _ in part]) + inner)
    if not rests:
        return " + ".join(words)
    said = words[0]
    for before, after in zip(found, words[1:], strict=False):
        said += f", then after {say_minutes(before[-1][1])} {after}"
    return said
