"""A club night as a coach types it, read into a kind of session.

Receives: text such as ``8 x 3 min, 90 s jog, canal`` or ``hills 10 x 60 s, jog down`` or the name of a
library kind, and the library.
Gives: a ``TypedNight``: a template whose repeats, recoveries and place are the coach's. How many repeats a
runner does, and at which pace, stays the business of the rules; the whistle is the same for all.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any, Final

from planbuilder.rules.doses import round_down, round_recovery
from planbuilder.rules.library import Library, Template
from planbuilder.settings.limits import Limits
from planbuilder.settings.session_models import Doses
from planbuilder.units import MILE_M, say_minutes

_SET: Final = re.compile(
    r"(\d{1,2})\s*[x×*]\s*(\d+(?:\.\d+)?)\s*(min|minutes?|s|sec|seconds?|m|km|k|mi|miles?)\b"
)
_TURNED: Final = re.compile(r"(\d+(?:\.\d+)?\s*(?:min|s|m|km|k|mi)[a-z]*)\s*x\s*(\d{1,2})\b")  # 1200 m x 5
_BARE_M: Final = re.compile(
    r"(\d{1,2}\s*x\s*\d{3,4})(?=[^\d\w.]*(?:\s|$|\())(?!\s*(?:min|s|m|km|k|mi)[a-z]*\b)"
)
_ONE: Final = re.compile(r"\b(\d{1,3})\s*(min|minutes?)\b")
_REST: Final = re.compile(r"\b(\d+(?:\.\d+)?)\s*(min|minutes?|s|sec|seconds?)\b")
_RESTED: Final = re.compile(r"\b(easy|recovery) (jog|walk)|\b(jog|walk) (easy|recovery)")
_RESTING: Final = re.compile(r"\b(jog|walk|rest|recovery|recover|easy|float|off|standing)\b")
_EFFORTS: Final = (
    (r"\beasy\b|\brecovery\b", "group_easy"),
    (r"\bsteady\b", "steady_run"),
    (r"\btempo\b|\bthreshold\b|\bcruise\b", "threshold_repeats"),
    (r"\bshort hills?\b|\bhill sprints?\b", "short_hill_reps"),
    (r"\bhills?\b|\buphill\b", "long_hill_reps"),
    (r"\bfartlek\b", "fartlek"),
    (r"\brace (effort|pace)\b|\bgoal (effort|pace)\b", "goal_repeats"),
    (r"\bmile (effort|pace)\b|\brepetitions\b|\bfast\b", "repetitions"),
    (r"\b[35]\s?km? (effort|pace)\b|\bintervals?\b|\bhard\b", "intervals"),
)
_CONTINUOUS: Final = {"threshold_repeats": "threshold_run", "steady_run": "steady_run", "fartlek": "fartlek"}


@dataclass(frozen=True, slots=True)
class TypedNight:
    """What a coach's line was taken to mean."""

    template: Template
    place: str
    words: str  # "8 × 3 min, 90 s jog": what was understood, and what was assumed
    base: str  # the kind of the library that it is a form of
    text: str  # the line itself


def read_night(text: str, *, name: str, library: Library, limits: Limits) -> TypedNight:
    """The session that a line means, as a template called ``name``.

    Raises ValueError with what the line must be, where it cannot be read.
    """
    plain = _plain(text)
    for kind in library:
        if plain in (kind.name, kind.name.replace("_", " "), kind.title.lower()):
            return TypedNight(_shared(kind, name), "", kind.title, kind.name, text)
    parts = [part.strip() for part in text.split(",") if part.strip()]
    sets = ((part, found) for part in parts if (found := _SET.search(_plain(part))))
    main, found = next(sets, ("", None))
    if found is None:
        return _one_stretch(text, plain, parts, name, library)
    repeats, repeat_s, run_as = _repeats(found, limits)
    resting = next((part for part in parts if part is not main and _is_rest(part)), "")
    rest = _rest_beside(found, resting)
    named = _kind_of(_RESTED.sub("", plain.replace(rest.lower(), "")))
    base = named or _kind_by_shape(repeat_s, _seconds_in(rest))
    place = _place_in([part for part in parts if part is not main and part is not resting])
    template = _with_set(library.template(base), name, repeats, repeat_s, _seconds_in(rest), rest)
    words = f"{repeats} × {say_minutes(repeat_s)}" + (f", {rest}" if rest else "") + run_as
    if named is None:
        words += f"; taken as {template.title.lower()}, since no effort was typed"
    return TypedNight(template, place, words, base, text)


_EXAMPLES: Final = (
    'a session such as "8 x 3 min, 90 s jog, canal", "20 min tempo", "hills 10 x 60 s, jog down" '
    "or the name of a kind in the library"
)


def _plain(text: str) -> str:
    """The line in small letters, its signs for times, minutes, seconds and metres written out."""
    plain = text.lower().replace("\N{MULTIPLICATION SIGN}", "x").replace("@", " at ")
    plain = re.sub(r"(?<=\d)\s*['\N{PRIME}\N{RIGHT SINGLE QUOTATION MARK}]", " min ", plain)
    plain = re.sub(r"(?<=\d)\s*[\"\N{DOUBLE PRIME}\N{RIGHT DOUBLE QUOTATION MARK}]", " s ", plain)
    plain = re.sub(r"(\d{1,2}\s*x)\s*(mile|kilomet)", r"\1 1 \2", plain)
    return " ".join(_TURNED.sub(r"\2 x \1", _BARE_M.sub(r"\1 m", plain)).split())


def _is_rest(part: str) -> bool:
    return bool(_RESTING.search(part.lower()) or _REST.fullmatch(_plain(part)))


def _rest_beside(found: re.Match[str], rest: str) -> str:
    """The recovery, which may stand right behind the repeats: ``off 90 s``, ``(2 min jog)``.

    Raises ValueError with the words beside the repeats that hold a number and mean nothing here.
    """
    before, behind = found.string[: found.start()], found.string[found.end() :]
    time = _REST.search(behind)
    if time is not None and not rest:
        how = re.search(r"\b(jog|walk|float)", behind)
        rest = f"{time[0]} {how[1]}" if how else time[0]
        behind = behind.replace(time[0], "", 1)
    for words in (before, re.sub(r"\b[135]\s?km? (effort|pace)\b", "", behind)):
        if re.search(r"\d", words):
            raise ValueError(f'{_EXAMPLES}, not "{words.strip()}" beside "{found[0]}"')
    return rest


def _place_in(parts: list[str]) -> str:
    """Where it is; a part with a time or another set is no place."""
    for part in parts:
        if _REST.search(_plain(part)) or _SET.search(_plain(part)):
            raise ValueError(f'{_EXAMPLES}, not "{part}" beside another set or stretch')
    return ", ".join(part for part in parts if not _is_effort(part))


def _repeats(found: re.Match[str], limits: Limits) -> tuple[int, float, str]:
    number, size, unit = int(found[1]), float(found[2]), found[3]
    if number < 1 or size <= 0:
        raise ValueError(_EXAMPLES)
    if unit.startswith("min"):
        return number, size * 60, ""
    if unit in ("s", "sec") or unit.startswith("second"):
        return number, size, ""
    metres = size * {"m": 1.0, "km": 1000.0, "k": 1000.0}.get(unit, MILE_M)
    pace_s_per_km = limits.number("night.pace_for_distances")
    seconds = max(15.0, round(metres / 1000 * pace_s_per_km / 15) * 15)
    return number, seconds, f"; {found[2]} {unit} run as {say_minutes(seconds)}, so that all stop together"


def _seconds_in(rest: str) -> float | None:
    found = _REST.search(rest.lower())
    if found is None:
        return None
    return float(found[1]) * (60 if found[2].startswith("min") else 1)


def _kind_of(words: str) -> str | None:
    """The kind that an effort word names."""
    return next((kind for pattern, kind in _EFFORTS if re.search(pattern, words)), None)


def _is_effort(part: str) -> bool:
    left = part.lower()
    for pattern, _ in _EFFORTS:
        left = re.sub(pattern, "", left)
    return not left.strip(" .;at")


def _kind_by_shape(repeat_s: float, recovery_s: float | None) -> str:
    """Short repeats are quick and relaxed; a recovery below 0.4 of the repeat only suits threshold effort."""
    if repeat_s <= 75:
        return "repetitions"
    if repeat_s >= 330 or (recovery_s is not None and recovery_s < 0.4 * repeat_s):
        return "threshold_repeats"
    return "intervals"


def _one_stretch(text: str, plain: str, parts: list[str], name: str, library: Library) -> TypedNight:
    found, kind = _ONE.search(plain), _kind_of(plain)
    if found is None or kind is None:
        raise ValueError(f"{_EXAMPLES}, not {text!r}")
    minutes = float(found[1])
    base = library.template(_CONTINUOUS.get(kind, kind))
    place = _place_in(parts[1:])
    size = Doses(
        novice=(min(minutes, 10), minutes), intermediate=(min(minutes, 15), minutes), club=(minutes, minutes)
    )
    changed: dict[str, Any] = {"name": name}
    if base.work_minutes is not None:
        changed["work_minutes"] = size
    elif base.minutes is not None:
        changed["minutes"] = Doses(
            novice=(minutes, minutes), intermediate=(minutes, minutes), club=(minutes, minutes)
        )
    template = base.model_copy(update={**changed, **_whole_dose()})
    words = f"{say_minutes(minutes * 60)} {base.doing or base.title.lower()}"
    return TypedNight(template, place, words, base.name, text)


def _shared(kind: Template, name: str) -> Template:
    """A kind that was only named, with one length of repeat and recovery for all; others as they are."""
    if kind.shape != "repeats":
        return kind
    if kind.repeats is None or kind.repeat_seconds is None:  # dosed by race distance: the club's races differ
        dose = kind.races.get("10 km") or next(iter(kind.races.values()), None)
        if dose is None:
            return kind
        repeat_s = round_down(sum(dose.repeat_seconds) / 2)
        rest_s = sum(dose.recovery_seconds) / 2
        return _with_set(kind, name, round(sum(dose.repeats) / 2), repeat_s, rest_s, "")
    repeats = round(sum(kind.repeats.club) / 2)
    repeat_s = round_down(sum(kind.repeat_seconds.intermediate) / 2)
    rest = kind.recovery_seconds
    share = kind.recovery_share or (1.0, 1.0)
    recovery_s = sum(rest) / 2 if rest else round_recovery(repeat_s * sum(share) / 2)
    return _with_set(kind, name, repeats, repeat_s, recovery_s, "")


def _whole_dose() -> dict[str, Any]:
    phases = ("base", "build", "specific", "taper")
    return {
        "phases": phases,
        "dose": dict.fromkeys(phases, 1.0),
        "grows": 0.0,
        "races": {},
        "progression": "",
    }


def _with_set(
    base: Template, name: str, repeats: int, repeat_s: float, recovery_s: float | None, rest: str
) -> Template:
    """The kind with the coach's repeats: all for a club runner, fewer for those with less behind them."""

    def share(low: float, high: float) -> tuple[float, float]:
        return max(1, round(repeats * low)), max(1, round(repeats * high))

    counts = {"novice": share(0.3, 0.6), "intermediate": share(0.4, 0.8), "club": share(0.4, 1.0)}
    same = (repeat_s, repeat_s)
    changed: dict[str, Any] = {
        "name": name,
        "repeats": Doses(**counts),
        "repeat_seconds": Doses(novice=same, intermediate=same, club=same),
        "work_minutes": Doses(
            **{level: (low * repeat_s / 60, high * repeat_s / 60) for level, (low, high) in counts.items()}
        ),
        **_whole_dose(),
    }
    if recovery_s is not None:
        changed |= {"recovery_seconds": (recovery_s, recovery_s), "recovery_share": None}
        words = _REST.sub("", rest).strip()
        if words:
            changed["recovery_words"] = words
    return base.model_copy(update=changed)
