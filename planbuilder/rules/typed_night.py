"""A club night as a coach types it, read into a kind of session.

Receives: text such as ``8 x 3 min, 90 s jog, canal`` or ``3 sets of 4 x 200, 30 s / 3 min`` or ``20 min tempo
+ 6 x 30 s hills``, or the name of a library kind, and the library.
Gives: a ``TypedNight``: a template whose repeats, recoveries and place are the coach's; where the stretches
differ, a row of them. How much of it a runner does, and at which pace, stays the business of the rules; the
whistle is the same for all.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

from planbuilder.rules.doses import round_down, round_recovery
from planbuilder.rules.library import Library, Template
from planbuilder.rules.night_parts import NotUnderstoodError, Part, Reader
from planbuilder.rules.night_row import Row, Stretch, is_easy_kind, night_share, rest_s
from planbuilder.rules.night_shape import row_words
from planbuilder.rules.night_words import Size
from planbuilder.rules.parts import once_title
from planbuilder.runner.types import Level
from planbuilder.settings.limits import Limits
from planbuilder.settings.session_models import Doses
from planbuilder.units import say_minutes

_CONTINUOUS: Final = {
    "threshold_repeats": "threshold_run",
    "long_hill_reps": "uphill_tempo",
    "long_hills": "uphill_tempo",
}
_REPEATED: Final = {"continuous_hills": "threshold_on_grade", "long_hills": "long_hill_reps"}
_RACE_EFFORTS: Final[dict[str, tuple[str, tuple[float, float]]]] = {  # kind, RPE: as in the table of paces
    "10 km effort": ("intervals", (8.0, 8.0)),
    "half-marathon effort": ("threshold_repeats", (6.0, 7.0)),
    "marathon effort": ("threshold_repeats", (5.0, 6.0)),
}
OR_OWN: Final = ", or your own session"  # behind an easy night
_LONG_S: Final = 330.0  # repeats as long as this suit threshold effort only
SHORT_S: Final = 75.0  # and up to here hills are short ones


@dataclass(frozen=True, slots=True)
class TypedNight:
    """What a coach's line was taken to mean."""

    template: Template
    place: str
    words: str  # "8 × 3 min, 90 s jog": what was understood, and what was assumed
    base: str  # the kind of the library that it is a form of
    text: str  # the line itself
    row: Row = ()  # where its stretches differ: all of them, in order
    asks: str = ""  # of those who come: "bring spikes"
    own_too: bool = False  # an easy night on which a session of one's own may stand instead
    proposed: bool = field(default=False, compare=False)  # by the program

    def as_proposed(self) -> TypedNight:
        """The same night, thought of by the program."""
        return replace(self, proposed=True)


def read_night(text: str, *, name: str, library: Library, limits: Limits) -> TypedNight:
    """The session that a line means, as a template called ``name``.

    Raises ValueError with the part that was not understood and what a line may be.
    """
    line, own, _ = text.partition(OR_OWN)
    night = replace(_read_line(line, name, library, limits), text=text, own_too=bool(own))
    if own and not is_easy_kind(night.template):
        raise NotUnderstoodError(OR_OWN.strip(", "), "only an easy night leaves room for it")
    return night


def _read_line(text: str, name: str, library: Library, limits: Limits) -> TypedNight:
    plain = " ".join(text.lower().split())
    for kind in library:
        if plain in (kind.name, kind.name.replace("_", " "), kind.title.lower()):
            if kind.shape == "test":
                return _read_line("3 km time trial", name, library, limits)
            return TypedNight(_shared(kind, name), "", kind.title, kind.name, text)
    reader = Reader(text)
    return replace(_of_parts(reader, text, name, library, limits), asks=", ".join(reader.asks))


def _of_parts(reader: Reader, text: str, name: str, library: Library, limits: Limits) -> TypedNight:
    parts, place = reader.parts, ", ".join(reader.places)
    first = parts[0]
    if len(parts) == 1 and first.trial:
        return _trial(first, place, text, name, library, limits)
    if any(part.effort == "strides" for part in parts) and not (len(parts) == 1 and first.alone):
        raise NotUnderstoodError("strides", 'they belong to an easy run: "45 min with strides"')
    if len(parts) == 1 and first.alone and first.effort != "fartlek":
        return _one_stretch(first, place, text, name, library, limits)
    read = [_read_part(part, len(parts), library, limits) for part in parts]
    row = _row_of(read, limits)
    if len(parts) == 1 and first.sets == 1 and len(first.sizes) == 1:
        only = read[0]
        template = _with_set(only.template, name, len(row), row[0].seconds, only.rest_s, only.part.rest_words)
        return TypedNight(template, place, _said(read, row), only.template.name, text)
    longest = max(read, key=lambda one: sum(one.seconds) * one.part.repeats * one.part.sets)
    template = longest.template.model_copy(update={"name": name, **_whole_dose()})
    return TypedNight(template, place, _said(read, row), longest.template.name, text, row)


@dataclass(frozen=True, slots=True)
class _Read:
    """A part with its kind, in seconds."""

    part: Part
    template: Template
    assumed: bool  # no effort was typed
    seconds: tuple[float, ...]  # of its repeat, or of each rung of its ladder
    rest_s: float | None  # between repeats; None: as the kind has it

    def rest_behind(self, seconds: float) -> float:
        """The recovery behind a stretch of so many seconds."""
        if self.part.rests[:1] == ["equal"]:
            return round_recovery(seconds)
        if self.rest_s is not None:
            return self.rest_s
        return rest_s(self.template, sum(self.seconds) / len(self.seconds))


def _read_part(part: Part, parts: int, library: Library, limits: Limits) -> _Read:
    if part.trial:
        raise NotUnderstoodError(part.said, "a time trial stands alone")
    if part.effort == "group_easy":
        raise NotUnderstoodError(part.said, "easy running before and after the work is planned already")
    if part.alone and part.effort == "fartlek":
        part = _surges(part, limits)
    seconds = tuple(_seconds_of(size, limits) for size in part.sizes)
    typed = part.rests[0] if part.rests else None
    between_s = _recovery_of(typed, part, limits) if isinstance(typed, Size) else None
    if typed == "equal" and len(seconds) == 1:
        between_s = round_recovery(seconds[0])
    mean_s = sum(seconds) / len(seconds)
    kind = part.effort or _kind_by_shape(mean_s, between_s, part.sets)
    if kind == "long_hill_reps" and mean_s <= SHORT_S:
        kind = "short_hill_reps"
    if part.effort is None and part.alone:
        if parts == 1 or mean_s < _LONG_S:
            raise NotUnderstoodError(part.said, "how hard is it?")
        kind = "threshold_repeats"
    return _Read(part, _template(kind, library, alone=part.alone), part.effort is None, seconds, between_s)


def _surges(part: Part, limits: Limits) -> Part:
    """So many minutes of fartlek as surges with easy running of the same length between."""
    size = part.sizes[0]
    whole_s = _seconds_of(size, limits)
    surge_s = 120.0 if whole_s >= 1200 else 60.0
    count = math.floor((whole_s + surge_s) / (2 * surge_s))
    if count < 2:
        raise NotUnderstoodError(part.said, "too short for a fartlek")
    even = Size(surge_s, "s", say_minutes(surge_s))
    return Part(part.said, (even,), count, efforts=part.efforts, rests=[even], gap=part.gap)


def _template(kind: str, library: Library, *, alone: bool) -> Template:
    """The kind of the library, in the shape that was typed: one stretch, or repeats."""
    if kind in _RACE_EFFORTS:
        name, rpe = _RACE_EFFORTS[kind]
        what = f"at {kind}"
        base = library.template(_CONTINUOUS.get(name, name) if alone else name)
        return base.model_copy(
            update={
                "title": f"Run {what}" if alone else f"Repeats {what}",
                **{"band": kind, "effort": rpe, "effort_by_phase": {}, "doing": what},
            }
        )
    base = library.template(_CONTINUOUS.get(kind, kind) if alone else _REPEATED.get(kind, kind))
    if kind == "continuous_hills":
        doing = "over the hill without a break, at threshold effort"
        changed = {"title": "Continuous hills", "ground": "rolling", "up_and_down": False, "doing": doing}
        return base.model_copy(update=changed)
    if base.shape == "continuous" and not alone:
        return base.model_copy(
            update={
                **{"shape": "repeats", "minutes": None, "cool_down": "standard"},
                **{"title": base.title.replace(" run", " repeats"), "recovery_seconds": (60.0, 90.0)},
            }
        )
    return base


def _row_of(read: Sequence[_Read], limits: Limits) -> Row:
    """All stretches of a night in order, with the recoveries behind them."""
    row: list[Stretch] = []
    for one in read:
        part = one.part
        words = part.rest_words or one.template.recovery_words
        rungs = one.seconds * part.repeats
        between_sets = part.set_rest or limits.number("night.between_sets") * 60
        between_parts = part.gap or limits.number("night.between_parts") * 60
        for turn in range(part.sets):
            for place, seconds in enumerate(rungs):
                ends = place == len(rungs) - 1
                pause: Size | float = one.rest_behind(seconds)
                if ends:
                    pause = between_parts if turn == part.sets - 1 else between_sets
                pause_s = _recovery_of(pause, part, limits) if isinstance(pause, Size) else pause
                stops = ends or part.sets == 1
                row.append(Stretch(one.template, seconds, pause_s, words, stops))
    last = row[-1]
    return (*row[:-1], Stretch(last.template, last.seconds, 0.0, last.rest_words, True))


def _said(read: Sequence[_Read], row: Row) -> str:
    """What was understood, and what was assumed."""
    first = read[0]
    if len(read) == 1 and first.part.sets == 1 and len(first.seconds) == 1:
        rests = first.part.rests
        size = rests[0] if rests and isinstance(rests[0], Size) else None
        pause = say_minutes(first.rest_s) if first.rest_s is not None else ""
        rest = " ".join(word for word in (pause, first.part.rest_words) if word)
        if size is not None and size.unit == "m":
            rest = f"{pause} to {'walk' if 'walk' in rest.lower() else 'jog'} {size.said}"
        words = f"{len(row)} × {say_minutes(row[0].seconds)}" + (f", {rest}" if rest else "")
    else:
        words = row_words([(one.seconds, one.rest_s) for one in row])
    metres = [
        f"{size.said} run as {say_minutes(seconds)}"
        for one in read
        for size, seconds in dict(zip(one.part.sizes, one.seconds, strict=True)).items()
        if size.unit == "m"
    ]
    if metres:
        words += f"; {', '.join(dict.fromkeys(metres))}, so that all stop together"
    assumed = list(dict.fromkeys(one.template.title.lower() for one in read if one.assumed))
    if assumed:
        words += f"; taken as {' and '.join(assumed)}, since no effort was typed"
    return words


def _seconds_of(size: Size, limits: Limits) -> float:
    """How long a stretch lasts; one in metres as long as the whole squad runs for it."""
    if size.unit == "s":
        if size.amount >= 200 and size.amount % 100 == 0 and size.said[-1:] == "s" and size.amount % 60:
            raise NotUnderstoodError(size.said, f"write {size.amount:g} m, or the time in minutes")
        return size.amount
    if size.amount < 50:
        raise NotUnderstoodError(size.said, f"write {size.amount:g} min, or a distance from 50 m")
    return max(15.0, round(size.amount / 1000 * limits.number("night.pace_for_distances") / 15) * 15)


def _recovery_of(size: Size, part: Part, limits: Limits) -> float:
    """How long a recovery lasts; one in metres at the pace of a jog or a walk."""
    if size.unit == "s":
        return size.amount
    how = "night.walk_for_distances" if "walk" in part.rest_words.lower() else "night.jog_for_distances"
    return max(15.0, round(size.amount / 1000 * limits.number(how) / 15) * 15)


def _kind_by_shape(repeat_s: float, recovery_s: float | None, sets: int) -> str:
    """Short repeats are quick and relaxed where their recovery is longer than they are, or comes in sets.

    With no more recovery than work they are broken intervals; with less than 0.4 of it, threshold effort.
    """
    if repeat_s <= SHORT_S and (recovery_s is None or sets > 1 or recovery_s > repeat_s):
        return "repetitions"
    if repeat_s >= _LONG_S or (recovery_s is not None and recovery_s < 0.4 * repeat_s):
        return "threshold_repeats"
    return "intervals"


def _one_stretch(
    part: Part, place: str, text: str, name: str, library: Library, limits: Limits
) -> TypedNight:
    kind, size = part.effort, part.sizes[0]
    if kind is None:
        raise NotUnderstoodError(text.strip(), "how hard is it?")
    run_as = ""
    minutes = size.amount / 60
    if size.unit == "m":
        pace = "night.easy_for_distances" if kind in ("group_easy", "strides") else "night.pace_for_distances"
        minutes = float(round(size.amount / 1000 * limits.number(pace) / 60))
        run_as = f"; {size.said} run as {say_minutes(minutes * 60)}, so that all finish together"
    if minutes < 1 or minutes > 180:
        raise NotUnderstoodError(part.said)
    base = _template(kind, library, alone=True)
    same = (minutes, minutes)
    changed: dict[str, Any] = {"name": name}
    if base.work_minutes is not None:
        changed["work_minutes"] = Doses(
            novice=(min(minutes, 10), minutes), intermediate=(min(minutes, 15), minutes), club=same
        )
    elif base.minutes is not None:
        changed["minutes"] = Doses(novice=same, intermediate=same, club=same)
    template = base.model_copy(update={**changed, **_whole_dose()})
    if base.work_minutes is None and base.minutes is None:  # a kind that only the race doses
        once = base.model_copy(update={"title": once_title(base.title)})
        template = _with_set(once, name, 1, minutes * 60, None, "")
    doing = "easy with strides" if kind == "strides" else base.doing or base.title.lower()
    words = f"{say_minutes(minutes * 60)} {doing}{run_as}"
    return TypedNight(template, place, words, base.name, text)


def _trial(part: Part, place: str, text: str, name: str, library: Library, limits: Limits) -> TypedNight:
    """Everybody starts together and takes the time it takes; all cool down after the slowest."""
    size = part.sizes[0]
    if size.unit != "m" or not 1000 <= size.amount <= 10_000:
        raise NotUnderstoodError(text.strip(), "a time trial has a distance from 1 km to 10 km")
    trial = library.template("test")
    allowed_s = math.ceil(size.amount / 1000 * limits.number("night.trial_pace") / 60) * 60.0
    template = trial.model_copy(update={"name": name, **_whole_dose()})
    row = (Stretch(trial, allowed_s, distance_m=size.amount),)
    words = f"{size.said} time trial, all-out but even; novices run about as far at an even threshold effort"
    return TypedNight(template, place, words, trial.name, text, row)


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
        "progression": "",
    }


def _with_set(
    base: Template, name: str, repeats: int, repeat_s: float, recovery_s: float | None, rest: str
) -> Template:
    """The kind with the coach's repeats: all for a club runner, fewer for those with less behind them."""

    def share(low: float, level: Level) -> tuple[float, float]:
        return max(1, round(repeats * low)), max(1, round(repeats * night_share(level)))

    counts = {
        "novice": share(0.3, "novice"),
        "intermediate": share(0.4, "intermediate"),
        "club": share(0.4, "club"),
    }
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
        if rest:
            changed["recovery_words"] = rest
    return base.model_copy(update=changed)
