"""Published tables: one CSV file a table; the lines that begin with # name its source and standing."""

from __future__ import annotations

import csv
from pathlib import Path


def rows(name: str) -> list[dict[str, float]]:
    """The rows of ``tests/published/NAME.csv`` as numbers, by column."""
    lines = (Path(__file__).parent / f"{name}.csv").read_text("utf-8").splitlines()
    table = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [{key: float(value) for key, value in row.items()} for row in table]
