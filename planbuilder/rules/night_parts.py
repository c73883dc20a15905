"""What stands where in a typed club night: its parts, their recoveries, the place.

Receives: the tokens of a line.
Gives: ``Part``s in order and the place; ValueError with the words that were not understood.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from planbuilder.rules.night_words import EFFORTS, Kind, Size, Token, tokens_of

EXAMPLES: Final = (
    'a session such as "8 x 3 min, 90 s jog, canal" or "20 min tempo + 6 x 30 s hills", '
    "or the name of a kind in the library"
)
_MAIN: Final[frozenset[Kind]] = frozenset({"repeats", "paired", "ladder", "size", "trial", "sets", "number"})
_SIZED: Final[frozenset[Kind]] = frozenset({"size", "slash", "between", "equal"})
_JOINTS: Final[frozenset[Kind]] = frozenset({"comma", "open", "close"})
_ORDER: Final = tuple(kind for _, kind in EFFORTS)
_ASKING: Final = (
    *("bring ", "wear ", "take ", "remember ", "please ", "don't ", "do not ", "no ", "spikes", "head torch"),
)


def _longer(later: Size, first: Size) -> bool:
    return later.unit != first.unit or later.amount > first.amount


class NotUnderstoodError(ValueError):
    """A line that cannot be read; its text names the part."""

    def __init__(self, words: str, why: str = "") -> None:
        super().__init__(f'{EXAMPLES}, not "{words}"' + (f": {why}" if why else ""))


@dataclass(slots=True)
class Part:
    """One part of a night as it was typed."""

    said: str  # the words of its main token
    sizes: tuple[Size, ...]  # one for repeats of one length
    repeats: int = 1
    sets: int = 1
    trial: bool = False
    efforts: list[str] = field(default_factory=list)
    rests: list[Size | str] = field(default_factory=list)  # between repeats, then between sets; "equal"
    rest_words: str = ""  # "jog down"
    set_rest: Size | None = None
    set_rest_said: bool = False  # "between sets", and not only behind the bracket
    gap: Size | None = None  # before the next part

    @property
    def alone(self) -> bool:
        """Whether it is one stretch."""
        return self.repeats == 1 and len(self.sizes) == 1 and not self.trial

    @property
    def effort(self) -> str | None:
        """The effort that was typed; of several the first in the order of the efforts."""
        return min(self.efforts, key=_ORDER.index, default=None)


class Reader:
    """Reads one line, clause by clause."""

    def __init__(self, line: str) -> None:
        self._line = line
        self.parts: list[Part] = []
        self.places: list[str] = []
        self.asks: list[str] = []  # what the coach asks of those who come: "bring spikes"
        self._sets = 1
        self._open = False  # inside the brackets of a set
        self._closed = False  # behind them
        self._trial = False
        self._efforts: list[str] = []
        clause: list[Token] = []
        tokens = self._behind_the_place(tokens_of(line))
        for at, token in enumerate(tokens):
            if token.kind in _JOINTS or (token.kind == "joint" and self._begins(tokens, at)):
                self._read(clause)
                clause = []
                self._bracket(token, tokens, at)
                if token.kind == "joint":
                    clause = [token]
            else:
                clause.append(token)
        self._read(clause)
        self._finish()

    def _behind_the_place(self, tokens: list[Token]) -> list[Token]:
        """What stands behind a place that opens the line: "track: 8 x 400"."""
        first = next((at for at, token in enumerate(tokens) if self.said([token]) == ":"), 0)
        before = tokens[:first]
        if not {token.kind for token in before} <= {"word", "filler", "link"} or not any(
            token.kind == "word" for token in before
        ):
            return tokens
        place = self.said(before)
        if place.lower().startswith(("warm", "cool")):
            return tokens
        self.places.append(place)
        return tokens[first + 1 :]

    def _begins(self, tokens: Sequence[Token], at: int) -> bool:
        """Whether a new part follows: there is a size before and behind this joint."""
        return any(one.kind in _MAIN for one in tokens[at + 1 :]) and bool(
            self.parts or any(one.kind in _MAIN for one in tokens[:at])
        )

    def _bracket(self, token: Token, tokens: Sequence[Token], at: int) -> None:
        if token.kind == "open" and at and tokens[at - 1].kind == "sets":
            self._open = True
        elif token.kind == "close" and self._open:
            self._open, self._closed = False, True

    def said(self, tokens: Sequence[Token]) -> str:
        """The words of the line that these tokens stand for."""
        return self._line[tokens[0].start : tokens[-1].end].strip() if tokens else ""

    def _read(self, clause: list[Token]) -> None:
        fresh = not self.parts  # no part to which a recovery could belong
        if clause and clause[0].kind == "joint":
            clause, fresh = clause[1:], True
        if not clause:
            return
        if not any(token.kind in _MAIN or token.kind in ("rest", "equal", "between") for token in clause):
            self._words_only(clause)
            return
        resting = any(token.kind in ("rest", "equal", "between") for token in clause)
        working = any(token.kind == "effort" and token.effort != "group_easy" for token in clause)
        began = len(self.parts)
        odd: list[Token] = []
        rest_from: int | None = None
        for at, token in enumerate(clause):
            match token.kind:
                case "sets":
                    self._start_sets(token, clause)
                case "repeats" | "ladder":
                    if token.sizes[0].joined and [one.kind for one in clause[at + 1 : at + 2]] == ["rest"]:
                        raise NotUnderstoodError(self.said(clause), "put a comma before the recovery")
                    self._start(Part(self.said([token]), token.sizes, token.count), clause)
                    fresh = False
                case "paired":
                    self._start(Part(self.said([token]), token.sizes[:1], token.count), clause)
                    self._rest(token.sizes[1], clause)
                    fresh = False
                case "trial":
                    self._as_trial()
                case "size":
                    inside = len(self.parts) > began
                    is_rest = not fresh and (inside or resting or not working) and not self._trial
                    if is_rest:
                        self._rest(token.sizes[0], clause)
                        rest_from = at if rest_from is None else rest_from
                    else:
                        self._start(Part(self.said([token]), token.sizes), clause)
                        fresh = False
                case "equal":
                    self._rest("equal", clause)
                    rest_from = at if rest_from is None else rest_from
                case "rest":
                    if fresh and len(self.parts) == began:
                        self._efforts.append("group_easy")
                    else:
                        rest_from = at if rest_from is None else rest_from
                case "effort":
                    self._effort(token, resting=rest_from is not None, fresh=fresh)
                case "number":
                    ladder = any(sign in self.said([token]) for sign in "-\N{EN DASH}/")
                    why = "minutes or metres?" if ladder else self._in(clause)
                    raise NotUnderstoodError(self.said([token]), why)
                case "word" | "link":
                    odd.append(token)
        self._leftover(clause, odd, rest_from, inside=len(self.parts) > began)

    def _in(self, clause: Sequence[Token]) -> str:
        whole = self._line.strip()
        return f'its part of "{whole}" has no meaning here' if self.said(clause) != whole else ""

    def _start_sets(self, token: Token, clause: Sequence[Token]) -> None:
        if self._sets > 1:
            raise NotUnderstoodError(self.said(clause), "sets of sets")
        self._sets, self._closed = token.count, False

    def _start(self, part: Part, clause: Sequence[Token]) -> None:
        if not part.repeats or not all(size.amount > 0 for size in part.sizes):
            raise NotUnderstoodError(self.said(clause))
        if self._open and self.parts and self.parts[-1].sets > 1 and self._sets == 1:
            raise NotUnderstoodError(self.said(clause), "brackets hold one kind of repeat")
        if self._sets > 1 and part.repeats == 1 and len(part.sizes) == 1:
            part.repeats = self._sets
        else:
            part.sets = self._sets
        self._sets, self._closed = 1, False
        part.trial, self._trial = self._trial, False
        part.efforts, self._efforts = self._efforts, []
        self.parts.append(part)

    def _as_trial(self) -> None:
        if self.parts and self.parts[-1].alone:
            self.parts[-1].trial = True
        else:
            self._trial = True

    def _effort(self, token: Token, *, resting: bool, fresh: bool) -> None:
        if resting and token.effort == "group_easy":
            return
        if self.parts and not fresh:
            self.parts[-1].efforts.append(token.effort)
        else:
            self._efforts.append(token.effort)

    def _rest(self, size: Size | str, clause: Sequence[Token]) -> None:
        """A recovery where it belongs: between repeats, between sets, before the next part."""
        part = self.parts[-1]
        kinds = {token.kind for token in clause}
        bare = isinstance(size, Size) and size.unit == "m"
        if bare and not kinds & {"rest", "between"}:
            raise NotUnderstoodError(
                self.said(clause), "is it a recovery? Write 200 m jog, or + between parts"
            )
        timed = size if isinstance(size, Size) else None
        first = None if part.rests or part.set_rest_said else part.set_rest
        if (
            part.sets > 1
            and timed
            and part.set_rest is None
            and ("between" in kinds or self._closed or part.rests)
        ):
            part.set_rest, part.set_rest_said = timed, "between" in kinds
        elif timed and first and ("between" in kinds or _longer(timed, first)):
            part.rests, part.set_rest = [first], timed  # "(4 x 200) 30 s / 3 min"
        elif not part.alone and not part.trial and not part.rests and "between" not in kinds:
            part.rests.append(size)
        elif timed and part.gap is None:
            part.gap = timed
        else:
            raise NotUnderstoodError(self.said(clause), "there is a recovery already")

    def _leftover(
        self, clause: list[Token], odd: list[Token], rest_from: int | None, *, inside: bool
    ) -> None:
        """Words beside the sizes: how to recover, or where it is; anything else is not understood."""
        part = self.parts[-1] if self.parts else None
        if part is None:
            return
        place_from = next((at for at, token in enumerate(clause) if self._place_at(clause, at)), None)
        if rest_from is not None and not (inside and place_from is not None and place_from > rest_from):
            place_from = None
        if place_from is not None:
            self.places.append(self.said(clause[place_from + 1 :]))
        end = len(clause) if place_from is None else place_from
        if rest_from is not None:
            kept = [token for token in clause[rest_from:end] if token.kind not in _SIZED]
            words = " ".join(self.said([token]) for token in kept)
            if any(token.kind == "rest" for token in kept) and not part.rest_words:
                part.rest_words = "" if words.lower() == "off" else words
            end = min(end, rest_from)
        wrong = [token for token in clause[:end] if token in odd and token.kind == "word"]
        if wrong:
            words = self.said(wrong)
            planned = words.lower().startswith(("warm", "cool"))
            why = (
                "warm-up and cool-down are planned already" if planned else f'it stands beside "{part.said}"'
            )
            raise NotUnderstoodError(words, why)

    def _place_at(self, clause: Sequence[Token], at: int) -> bool:
        """Whether a place begins behind this word: "at the track"."""
        behind = clause[at + 1 :]
        return (
            clause[at].kind == "link"
            and any(token.kind == "word" for token in behind)
            and all(token.kind in ("word", "filler", "effort", "link") for token in behind)
        )

    def _words_only(self, clause: list[Token]) -> None:
        """A clause without a size: an effort, or a place."""
        efforts = [token.effort for token in clause if token.kind == "effort"]
        if self.parts:
            self.parts[-1].efforts += efforts if not self.parts[-1].efforts else []
        else:
            self._efforts += efforts
        if any(token.kind == "word" for token in clause):
            at = next((at for at in range(len(clause)) if self._place_at(clause, at)), None)
            whole = at is None or any(token.kind == "word" for token in clause[:at])
            said = self.said(clause if whole or at is None else clause[at + 1 :])
            asked = said.lower().startswith(_ASKING)
            (self.asks if asked else self.places).append(said)

    def _finish(self) -> None:
        if self._sets > 1 or not self.parts:
            raise NotUnderstoodError(self._line.strip())
        last = self.parts[-1]
        if last.gap is not None:
            raise NotUnderstoodError(
                last.gap.said, f'it stands behind "{last.said}", and no other part follows'
            )
        if self._trial or (len(self.parts) > 1 and any(part.trial for part in self.parts)):
            raise NotUnderstoodError(self._line.strip(), "a time trial stands alone, with its distance")
        if self._efforts:
            self.parts[-1] = replace(last, efforts=[*last.efforts, *self._efforts])
