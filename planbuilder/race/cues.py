"""What to do, stretch by stretch: short words for the ground and the place in the race.

Receives: features, remarks of the coach, the ladder.
Gives: a cue for any stretch; the three cues of the race card; the words for the first minutes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from planbuilder.course.types import Feature, FeatureKind, Remark
from planbuilder.race.ladder import Ladder, RaceClass, race_class
from planbuilder.race.layout import Piece
from planbuilder.race.types import FINISHING, Aim
from planbuilder.units import place_mark, say_minutes

_WORK: Final = "Now it is work: same rhythm, tall, loose hands"
_END: Final = "Nothing to save: all of it to the line"
_SHORT: Final = (
    "Quick but held: the first minutes lie",
    "Into the rhythm; single words at most",
    _WORK,
    _END,
)
_RUNG_WORDS: Final[dict[RaceClass, tuple[str, ...]]] = {
    "5k": _SHORT,
    "10k": _SHORT,
    "half": (
        "Hold it back; it should feel too easy",
        "Settled and comfortable; a sentence still comes out",
        _WORK,
        _END,
    ),
    "marathon": (
        "Hold it back; it should feel too easy",
        "Settled, a little dull: that is right",
        _WORK,
        _END,
    ),
}
_HOT_RUNGS: Final = (
    "Easier than you would like, in the shade where there is any",
    "Patient, one notch lower than on a cool day",
    "Drink to thirst, water over the head; walk where it feels too hot",
    "Home in good shape: no sprint, walk where it feels too hot",
)
_HOT_FEATURES: Final[dict[FeatureKind, str]] = {
    "climb": "Shorter steps, and walk it where it feels too hot",
    "finish_drag": "It rises all the way to the line: landmark by landmark, no sprint",
    "hilly_finish": "Short steps on the rises; walking them is fine today",
}
_WELL_RUNGS: Final = (
    "Easier than you would like: whole sentences still come out",
    "Settled; walk a minute where short sentences no longer come out",
    "Steady work now: same rhythm, tall, loose hands",
    "What is left, evenly, to the line",
)
_TURN_RUNGS: Final = (
    "Run and walk by turns from the start, however fresh you feel",
    "Keep the turns: walk before you have to",
    "Keep the turns; brisk walking brings you on",
    "Run as much of it as feels good, to the line",
)
_WELL_FEATURES: Final[dict[FeatureKind, str]] = {
    "climb": "Short steps at the same breathing, or brisk walking; run on when it levels out",
    "finish_drag": "It rises all the way to the line: landmark by landmark, walking where you need to",
    "hilly_finish": "Short steps on the rises, or brisk walking: the line is the goal",
}
_EASY_RUNGS: Final = (
    "From the back, at the pace of an easy run; whole sentences",
    "Whole sentences; walk a little where they get short",
    "Still easy; let the race go by",
    "Easy to the line, no sprint",
)
_EASY_UP: Final = "Short steps, or walking: the breathing stays easy"
_EASY_DOWN: Final = "Short quick steps, no faster than is comfortable"
_EASY_CUES: Final = (
    "Start at the back, as if for an easy run",
    "Whole sentences all the way",
    "Walk a rise before it gets hard",
)
_FEATURE_WORDS: Final[dict[FeatureKind, str]] = {
    "climb": "Shorter steps, same breathing; let the pace go and keep the effort; run on over the top",
    "descent": "Quick light feet, lean with the slope; free speed only, no braking and no chasing",
    "drag": "It looks flat and is not: hold the effort and let the clock drift a little",
    "flat": "Find the rhythm and leave it alone: shoulders low, hands loose",
    "rolling": "Even breathing over every rise; give on the way up, take on the way down",
    "downhill_start": "Let the hill roll you, do not push: short quick steps, a sentence still comes out",
    "finish_drag": "It rises all the way to the line: pick a landmark, then the next, then empty it",
    "hilly_finish": "The race is decided here: even effort on the rises, what is left on the last one",
}
_DECISIVE: Final = "This is the one: relaxed at the foot, shorter steps, strong over the top"
_RISES: Final = "It rises a little: hold the effort and let the pace drift"
_FALLS: Final = "It falls a little: take what comes, without pushing"
_MOSTLY: Final = 0.6  # (up - down) / (up + down)
_EARLY_CLIMB: Final = "Let others go: one notch of effort more than the flat, no second one"


@dataclass(frozen=True, slots=True)
class CueBook:
    """Everything a cue may come from; looked up by place."""

    distance_m: float
    ladder: Ladder
    steep: float
    by_place: tuple[tuple[float, str], ...]  # remarks of the coach, by place
    climbs: tuple[Feature, ...]
    downhill_start_m: float  # how far a downhill start is held back, 0 where there is none
    drag_from_m: float  # where the finish drag begins; the distance where there is none
    hilly_from_m: float  # where a hilly finish begins; the distance where there is none
    decisive_m: float  # foot of the decisive climb; beyond the line where there is none
    too_hot: bool  # a day without a time goal: nothing is spent
    easily: bool = False  # the course is run, not raced
    aim: Aim = "time"

    def for_piece(self, piece: Piece) -> str:
        """Cue of a feature stretch."""
        return self._with_remarks(self._piece_words(piece), piece.from_m, piece.to_m)

    def for_split(self, from_m: float, to_m: float, grade: float) -> str:
        """Cue of a split."""
        return self._with_remarks(self._split_words(from_m, to_m, grade), from_m, to_m)

    def _with_remarks(self, words: str, from_m: float, to_m: float) -> str:
        said = self.by_place
        first = bisect_left(said, (from_m, ""))
        last = bisect_left(said, (to_m, "")) if to_m < self.distance_m else len(said)
        if first == last:
            return words
        return ". ".join([words, *(text.rstrip(".") for _, text in said[first:last])])

    def _piece_words(self, piece: Piece) -> str:
        feature = piece.feature
        if self.easily:
            return self._easy_words(
                piece.from_m,
                piece.to_m,
                up=feature is not None and feature.kind in ("climb", "drag", "finish_drag"),
                down=feature is not None and feature.kind in ("descent", "downhill_start"),
            )
        if feature is None:
            return self._rung_words(piece.from_m, piece.to_m)
        if feature.kind in self._gentle:
            return self._gentle[feature.kind]
        if feature.kind in ("climb", "drag") and feature.decisive:
            return _DECISIVE
        if feature.kind == "rolling" and max(feature.ascent_m, feature.descent_m) > 0:
            return _leaning(feature)
        if feature.kind == "climb" and feature.share_done < 0.25:
            return _EARLY_CLIMB
        begun = self.ladder.rung((piece.from_m + piece.length_m / 10) / self.distance_m)  # it may be long
        if feature.kind == "flat" and begun > 1:
            return self._words_of(begun)
        return _FEATURE_WORDS[feature.kind]

    @property
    def _gentle(self) -> dict[FeatureKind, str]:
        """Words for hard ground where no time is run for."""
        if self.too_hot:
            return _HOT_FEATURES
        return _WELL_FEATURES if self.aim in FINISHING else {}

    def _split_words(self, from_m: float, to_m: float, grade: float) -> str:
        if self.easily:
            return self._easy_words(from_m, to_m, up=grade > self.steep, down=grade < -self.steep)
        if to_m <= self.downhill_start_m + 1.0:
            return "Downhill start: hold it back, short quick steps"
        if from_m <= self.decisive_m < to_m:
            return "The decisive climb begins: relaxed at the foot, shorter steps"
        if from_m >= self.drag_from_m - 1.0:
            return "The drag to the line: landmark by landmark"
        crest = self._crest_in(from_m, to_m)
        if grade > self.steep:
            return "Effort stays, pace goes; short steps" + (
                ", run over the top" if crest is not None else ""
            )
        if crest is not None:
            return f"Crest at {place_mark(crest)}: a minute to settle, then back to the effort"
        if grade < -self.steep:
            return "Quick light feet; take what the slope gives"
        return self._rung_words(from_m, to_m)

    def _rung_words(self, from_m: float, to_m: float) -> str:
        middle_m = (from_m + to_m) / 2
        rung = self.ladder.rung(middle_m / self.distance_m)
        if middle_m >= self.hilly_from_m and rung < 3:
            return {**_FEATURE_WORDS, **self._gentle}["hilly_finish"]
        return self._words_of(rung)

    def _easy_words(self, from_m: float, to_m: float, *, up: bool, down: bool) -> str:
        if up or down:
            return _EASY_UP if up else _EASY_DOWN
        return _EASY_RUNGS[self.ladder.rung((from_m + to_m) / 2 / self.distance_m)]

    def _words_of(self, rung: int) -> str:
        if self.aim == "walk and run":
            return _TURN_RUNGS[rung]
        if self.too_hot:
            return _HOT_RUNGS[rung]
        return (_WELL_RUNGS if self.aim in FINISHING else _RUNG_WORDS[race_class(self.distance_m)])[rung]

    def _crest_in(self, from_m: float, to_m: float) -> float | None:
        return next((climb.end_m for climb in self.climbs if from_m < climb.end_m <= to_m), None)


def _leaning(feature: Feature) -> str:
    """Rolling ground that goes mostly one way."""
    share = (feature.ascent_m - feature.descent_m) / (feature.ascent_m + feature.descent_m)
    if abs(share) < _MOSTLY:
        return _FEATURE_WORDS["rolling"]
    return _RISES if share > 0 else _FALLS


def make_cue_book(
    *,
    distance_m: float,
    ladder: Ladder,
    steep: float,
    features: tuple[Feature, ...],
    remarks: Iterable[Remark],
    first_mile_m: float,
    too_hot: bool,
    easily: bool = False,
    aim: Aim = "time",
) -> CueBook:
    """The cue book of a course."""
    return CueBook(
        distance_m=distance_m,
        ladder=ladder,
        steep=steep,
        by_place=tuple(sorted((remark.at_m, remark.text) for remark in remarks if not remark.station)),
        climbs=tuple(feature for feature in features if feature.kind == "climb"),
        downhill_start_m=first_mile_m if any(one.kind == "downhill_start" for one in features) else 0.0,
        drag_from_m=min((one.start_m for one in features if one.kind == "finish_drag"), default=distance_m),
        hilly_from_m=min((one.start_m for one in features if one.kind == "hilly_finish"), default=distance_m),
        decisive_m=next((one.start_m for one in features if one.decisive), 2 * distance_m),
        too_hot=too_hot,
        easily=easily,
        aim=aim,
    )


def three_cues(
    features: tuple[Feature, ...],
    ladder: Ladder,
    distance_m: float,
    *,
    too_hot: bool = False,
    easily: bool = False,
    aim: Aim = "time",
    walk: tuple[float, ...] = (),
) -> tuple[str, ...]:
    """At most three cues for the card: the start, the decisive ground, the end.

    ``walk`` holds the minutes of running and of walking, where they take turns.
    """
    if easily:
        return _EASY_CUES
    kinds = {feature.kind for feature in features}
    decisive = next((feature for feature in features if feature.decisive), None)
    start = (
        "Downhill start: let it roll, never push"
        if "downhill_start" in kinds
        else "Start as if it were too slow"
    )
    if too_hot:
        return (start, "Drink to thirst, water over the head", "Walk wherever it feels too hot")
    if aim in FINISHING:
        middle = (
            f"{turn_words(walk)}, from the start" if walk else "Walk a minute before the breathing breaks"
        )
        return (start, middle, f"From {place_mark(ladder.ends[1] * distance_m)} what is left, evenly")
    middle = (
        f"At {place_mark(decisive.start_m)} the race begins: short steps, over the top"
        if decisive is not None
        else "Rhythm, shoulders, hands"
    )
    if "finish_drag" in kinds:
        end = "The last rise looks flat and is not: landmark by landmark"
    elif "hilly_finish" in kinds:
        end = "Keep one gear for the last hill"
    else:
        end = f"From {place_mark(ladder.ends[-2] * distance_m)} nothing is saved"
    return (start, middle, end)


def first_minutes_words(
    *,
    downhill_start: bool,
    effort: tuple[float, float],
    waved: bool,
    easily: bool = False,
    walk: tuple[float, ...] = (),
) -> str:
    """What to do in the first minutes."""
    rpe = f"{effort[0]:g}" if effort[0] == effort[1] else f"{effort[0]:g} to {effort[1]:g}"
    crowd = "Stand with people of your pace, start your watch at the line and let the crowd sort itself out."
    if easily:
        crowd = "Stand at the back and let everybody go."
    if waved:
        crowd = "Your clock starts with your own wave. " + crowd
    hill = (
        " The road falls: shorten the step rather than brake, and stay behind the planned pace at first."
        if downhill_start
        else ""
    )
    turns = f" The first walk comes after {say_minutes(walk[0] * 60)}, however fresh you are." if walk else ""
    return f"{crowd} Effort {rpe} of 10, breathing through whole sentences, no weaving.{hill}{turns}"


def turn_words(walk: tuple[float, ...]) -> str:
    """Minutes of running and of walking by turns.

    >>> turn_words((9.0, 1.0))
    'Run 9 min, walk 1 min'
    """
    running, walking = walk
    return f"Run {say_minutes(running * 60)}, walk {say_minutes(walking * 60)}"
