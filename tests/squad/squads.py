"""Made-up squads, the same for the same seed: block folders of any size."""

from __future__ import annotations

import csv
import datetime as dt
import random
from collections.abc import Mapping, Sequence
from pathlib import Path

FIRST_DAY = dt.date(2027, 1, 25)
RACE_DAY = dt.date(2027, 5, 16)  # 16 weeks
_FIRST = (
    "Ada",
    "Bo",
    "Cleo",
    "Dov",
    "Esme",
    "Finn",
    "Gus",
    "Hana",
    "Ivo",
    "June",
    "Kit",
    "Lena",
    "Milo",
    "Nell",
)
_DAYS = ("monday", "wednesday", "thursday", "friday", "saturday")
_BLOCK = """
[race]
name = "Withy Fen Half"
date = {race}
start_time = "09:30"
timezone = "Europe/London"
distance = "half marathon"
place = "Withy Fen"
{points}
[training]
first_day = {first}
club_nights = [{club_nights}]
roster = "roster.csv"
{club}
"""
_NIGHT = '{{ day = "{day}", time = "19:00", place = "Withy Fen track", minutes = 80 }}'
_POINTS = ((0.0, 4), (8.0, 12), (12.0, 10), (16.0, 14), (17.6, 62), (19.5, 40), (21.0975, 30))


def write_squad(
    folder: Path,
    count: int,
    *,
    seed: int = 1,
    nights: Mapping[dt.date, str] | None = None,
    days: Sequence[str] = ("tuesday",),
) -> Path:
    """A block with so many runners; ``nights`` are what the coach typed, ``days`` those of the club."""
    folder.mkdir(parents=True, exist_ok=True)
    points = "\n".join(
        f'[[race.point]]\ndistance = "{km} km"\nelevation = "{height} m"' for km, height in _POINTS
    )
    club = ""
    if nights:
        club = 'club = "club.toml"'
        lines = "\n".join(f'"{date}" = "{text}"' for date, text in sorted(nights.items()))
        (folder / "club.toml").write_text(f"[nights]\n{lines}\n", "utf-8")
    held = ", ".join(_NIGHT.format(day=day) for day in days)
    text = _BLOCK.format(race=RACE_DAY, first=FIRST_DAY, points=points, club=club, club_nights=held)
    (folder / "block.toml").write_text(text, "utf-8")
    write_roster(folder / "roster.csv", rows_of(count, seed))
    return folder


def rows_of(count: int, seed: int) -> list[dict[str, str]]:
    """Runners of all ages, levels and days; a few are hurt, unanswered, young, or without a result."""
    return [_row(number, random.Random(f"{seed}-{number}")) for number in range(count)]


def write_roster(path: Path, rows: list[dict[str, str]]) -> None:
    """The roster in the order given."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _row(number: int, dice: random.Random) -> dict[str, str]:
    pace = dice.uniform(215, 400)
    weekly = round(min(max(150 - pace * 0.32 + dice.uniform(-10, 10), 24), 95))
    others = dice.sample(_DAYS, dice.randint(1, 4) if weekly < 60 else dice.randint(3, 4))
    seconds = round(pace * 10)
    hurt = dice.random()
    return {
        "name": f"{dice.choice(_FIRST)} {chr(65 + number % 26)}{number // 26 or ''}",
        "result": ""
        if dice.random() < 0.08
        else f"10k {seconds // 60}:{seconds % 60:02d} {FIRST_DAY - dt.timedelta(days=dice.randint(8, 80))}",
        "weekly distance": f"{weekly} km",
        "longest run": f"{max(9, round(weekly * dice.uniform(0.27, 0.36)))} km",
        "fast minutes": str(dice.randint(8, 35)),
        "days": ", ".join(["tuesday", *others, "sunday"]),
        "age": str(dice.randint(15, 17) if dice.random() < 0.04 else dice.randint(18, 68)),
        "units": dice.choice(("km", "km", "mi")),
        "injury": f"{dice.choice(('calf', 'knee', 'hip'))} {dice.randint(1, 3)}" if hurt < 0.1 else "",
        "health": "" if dice.random() < 0.04 else "passed",
    }
