"""The words of a typed club night: sizes, sets, ladders, efforts, recoveries, joints.

Receives: a line as a coach types it.
Gives: its ``Token``s in order; each remembers where in the line it stands.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from planbuilder.units import MILE_M

Kind = Literal[
    "sets", "repeats", "paired", "ladder", "size", "trial", "open", "close", "comma", "joint", "slash",
    "effort", "rest", "between", "equal", "link", "filler", "number", "word",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Size:
    """How long one stretch is: seconds or metres."""

    amount: float
    unit: Literal["s", "m"]
    said: str = ""  # as typed
    joined: bool = False  # minutes and seconds side by side


@dataclass(frozen=True, slots=True)
class Token:
    """One word of the line."""

    kind: Kind
    start: int
    end: int
    count: int = 0
    sizes: tuple[Size, ...] = ()
    effort: str = ""


_N: Final = r"\d+(?:\.\d+)?"
_MIN: Final = r"(?:minutes?|mins?|'(?!')|\N{PRIME}|\N{RIGHT SINGLE QUOTATION MARK})"
_SEC: Final = r"(?:seconds?|secs?|s|''|\"|\N{DOUBLE PRIME}|\N{RIGHT DOUBLE QUOTATION MARK})"
_DIST: Final = r"(?:kilomet(?:re|er)s?|kms?|k|miles?|mi|met(?:re|er)s?|m)"
_END: Final = r"(?![a-z0-9])"
_JOINED: Final = rf"\d{{1,2}}\s*{_MIN}\s*\d{{1,2}}\s*{_SEC}{_END}"
_UNIT: Final = rf"(?:hours?|h|{_MIN}|{_SEC}|{_DIST}){_END}"
_CLOCK: Final = r"\d{1,2}:\d\d(?!\d)"
_SIZE: Final = rf"(?:{_JOINED}|{_CLOCK}|{_N}\s*{_UNIT})"
_ONE: Final = rf"(?:mile|kilomet(?:re|er)|km|k){_END}"
_BARE: Final = r"\d{3,4}(?![\d.:])"
_X: Final = r"\s*[x\N{MULTIPLICATION SIGN}*]\s*"
_RUNG: Final = rf"{_N}(?:\s*{_UNIT})?"
_TIMES: Final = rf"{_N}\s*{_MIN}"
_LADDER: Final = rf"{_RUNG}(?:\s*(?P<by>[-\N{{EN DASH}}/])\s*{_RUNG})(?:\s*(?P=by)\s*{_RUNG})+"
_LISTED: Final = rf"{_N}(?:\s*,\s*{_N}){{2,}}\s*{_UNIT}|{_TIMES}(?:(?:\s*,\s*|\s+){_TIMES}){{2,}}"
_PAIR: Final = r"(?P<on>1[5-9]|[2-9]\d)\s*/\s*(?P<off>1[5-9]|[2-9]\d)(?!\s*[/\d])"  # "30/30": seconds
_METRES: Final = {"k": 1000.0, "km": 1000.0, "m": 1.0, "mi": MILE_M}

EFFORTS: Final = (  # what an effort word means; the first that stands in a line wins
    (r"strides", "strides"),
    (r"easy", "group_easy"),
    (r"steady", "steady_run"),
    (r"tempo|threshold|cruise", "threshold_repeats"),
    (r"short hills?|hill sprints?", "short_hill_reps"),
    (r"(?:kenyan|continuous) hills?", "continuous_hills"),
    (r"long hills?", "long_hills"),
    (r"hills?|uphill", "long_hill_reps"),
    (r"fartlek", "fartlek"),
    (r"10\s?km? (?:effort|pace)", "10 km effort"),
    (r"half[ -]?marathon (?:effort|pace)", "half-marathon effort"),
    (r"marathon (?:effort|pace)", "marathon effort"),
    (r"(?:race|goal) (?:effort|pace)", "goal_repeats"),
    (r"mile (?:effort|pace)|repetitions|fast", "repetitions"),
    (r"[35]\s?km? (?:effort|pace)|intervals?|hard", "intervals"),
)
_EFFORT: Final = "|".join(f"(?:{pattern})" for pattern, _ in EFFORTS)
_FILLERS: Final = (
    "a|an|the|with|of|each|effort|pace|reps?|repeats?|pyramid|ladder|run|running|session|strong|controlled|"
    "relaxed|smooth|good form|intensity|the group|together|x|for|main set|workout|club night|"
    "(?:mon|tues|wednes|thurs|fri|satur|sun)day"
)


def tokens_of(line: str) -> list[Token]:
    """The words of a line, in order."""
    plain = line.lower()
    if len(plain) != len(line):  # a letter whose small form is longer
        plain = line
    return list(_scan(plain))


def _scan(plain: str) -> Iterator[Token]:
    at = 0
    while at < len(plain):
        if plain[at].isspace():
            at += 1
            continue
        for pattern, make in _PATTERNS:
            found = pattern.match(plain, at)
            if found is not None:
                yield make(found)
                at = found.end()
                break


def size_of(text: str) -> Size:
    """A time or a distance as typed; ValueError where it has no unit that fits.

    >>> size_of("90 s").amount, size_of("2:30").amount, size_of("800").unit
    (90.0, 150.0, 'm')
    """
    said = " ".join(text.split())
    if ":" in said:
        minutes, seconds = said.split(":")
        return Size(int(minutes) * 60.0 + int(seconds), "s", said)
    numbers = [float(number) for number in re.findall(_N, said)]
    if len(numbers) == 2:
        return Size(numbers[0] * 60 + numbers[1], "s", said, joined=True)
    unit = re.sub(rf"^{_N}\s*", "", said) if numbers else said
    amount = numbers[0] if numbers else 1.0
    said = said if numbers else f"1 {said}"
    if not unit:
        return Size(amount, "m", f"{said} m")
    if re.fullmatch(r"hours?|h", unit):
        return Size(amount * 3600, "s", said)
    if re.fullmatch(_MIN, unit):
        return Size(amount * 60, "s", said)
    if re.fullmatch(_SEC, unit):
        return Size(amount, "s", said)
    letters = "m" if unit.startswith("met") else "mi" if unit.startswith("mi") else unit.rstrip("s")
    return Size(amount * _METRES["k" if letters.startswith("k") else letters], "m", said)


def _rungs(text: str) -> tuple[Size, ...]:
    """The steps of a ladder; nothing where their unit is not known."""
    rungs = [rung.strip() for rung in re.findall(_RUNG, text)]
    last = re.sub(rf"^{_N}\s*", "", rungs[-1])
    found = []
    for rung in rungs:
        bare = re.fullmatch(_N, rung)
        if bare and float(rung) < 100:
            if not last:
                return ()
            rung = f"{rung} {last}"
        found.append(size_of(rung))
    return tuple(found) if len({size.unit for size in found}) == 1 else ()


def _plain(kind: Kind) -> Callable[[re.Match[str]], Token]:
    return lambda found: Token(kind, found.start(), found.end())


def _counted(kind: Kind) -> Callable[[re.Match[str]], Token]:
    def make(found: re.Match[str]) -> Token:
        count = int(found["n"]) if found["n"] else 1
        size = found.groupdict().get("size")
        return Token(kind, found.start(), found.end(), count, (size_of(size),) if size else ())

    return make


def _paired(found: re.Match[str]) -> Token:
    sizes = tuple(Size(float(found[name]), "s", f"{found[name]} s") for name in ("on", "off"))
    return Token("paired", found.start(), found.end(), int(found["n"]), sizes)


def _sized(found: re.Match[str]) -> Token:
    return Token("size", found.start(), found.end(), 1, (size_of(found[0]),))


def _laddered(found: re.Match[str]) -> Token:
    rungs = _rungs(found[0])
    return Token("ladder" if rungs else "number", found.start(), found.end(), 1, rungs)


def _effort(found: re.Match[str]) -> Token:
    kind = next(kind for pattern, kind in EFFORTS if re.fullmatch(pattern, found[0]))
    return Token("effort", found.start(), found.end(), effort=kind)


_TABLE: Final[tuple[tuple[str, Callable[[re.Match[str]], Token]], ...]] = (
    (rf"(?P<n>\d{{1,2}}){_X}{_PAIR}(?:\s*{_SEC}{_END})?", _paired),
    (rf"{_PAIR}(?:\s*{_SEC})?{_X}(?P<n>\d{{1,2}})(?!\d|\s*{_UNIT})", _paired),
    (rf"(?P<n>\d{{1,2}})(?:{_X})?\s*(?:sets?|rounds?)\b(?:\s*(?:of|x)\b|\s*:)?", _counted("sets")),
    (rf"(?P<n>\d{{1,2}}){_X}(?=\(|\d{{1,2}}{_X}|{_LADDER})", _counted("sets")),
    (rf"(?P<n>\d{{1,2}}){_X}(?P<size>{_SIZE}|{_ONE}|{_BARE})", _counted("repeats")),
    (rf"(?P<size>{_SIZE}){_X}(?P<n>\d{{1,2}})(?!\d|\s*{_UNIT})", _counted("repeats")),
    (r"(?:[35]|10)\s?km? (?:effort|pace)\b|mile (?:effort|pace)\b", _effort),
    (_LADDER, _laddered),
    (_LISTED, _laddered),
    (_SIZE, _sized),
    (rf"{_BARE}(?=\s*(?:easy |recovery )?(?:jog|walk|time trial|tt\b))", _sized),
    (r"\d[^\s,;()]*", _plain("number")),
    (r"time[ -]?trial|tt\b", _plain("trial")),
    (r"\(", _plain("open")),
    (r"\)", _plain("close")),
    (r"[,;]|\.(?=\s|$)", _plain("comma")),
    (r"[+&]|\b(?:and )?then\b|\bfollowed by\b|\bplus\b|\band\b", _plain("joint")),
    (r"w/(?!o\b)", _plain("filler")),
    (r"/", _plain("slash")),
    (r"(?:equal|same)(?: time)?\b", _plain("equal")),
    (r"between(?: the)? (?:sets?|rounds?)\b|after each set\b", _plain("between")),
    (r"(?:easy |recovery )?(?:jog|walk)\b|(?:rest|recovery|recover|recoveries|float|off|standing|jogging)\b",
     _plain("rest")),
    (rf"(?:{_EFFORT})\b", _effort),
    (r"(?:at|on|in|along|round|around|up|from|by)\b|@", _plain("link")),
    (rf"(?:{_FILLERS})\b|[:=\N{{EN DASH}}-]", _plain("filler")),
    (r"[^\s,;:()+/]+", _plain("word")),
)  # fmt: skip
_PATTERNS: Final = tuple((re.compile(pattern), make) for pattern, make in _TABLE)
