"""Bytes that wait for their turn in a nameless file, which goes with the program however it ends."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from typing import Self

from planbuilder.settings.problems import CannotWrite


class Waiting:
    """Named bytes in the order in which they came: they may be many times what memory should hold."""

    def __init__(self) -> None:
        self._places: list[tuple[str, int, int]] = []

    def __enter__(self) -> Self:
        try:
            self._file = tempfile.TemporaryFile()
        except OSError as problem:
            raise CannotWrite(f"No file could be kept aside ({problem.strerror or problem}).") from problem
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    def add(self, name: str, data: bytes) -> None:
        """Let these bytes wait under a name. Raises CannotWrite where the disk is full."""
        try:
            self._places.append((name, self._file.tell(), len(data)))
            self._file.write(data)
            self._file.flush()
        except OSError as problem:
            raise CannotWrite(
                f"{name}: could not be kept aside ({problem.strerror or problem})."
            ) from problem

    def __len__(self) -> int:
        return len(self._places)

    def __getitem__(self, at: int) -> tuple[str, bytes]:
        name, start, size = self._places[at]
        self._file.seek(start)
        data = self._file.read(size)
        self._file.seek(0, os.SEEK_END)
        return name, data

    def __iter__(self) -> Iterator[tuple[str, bytes]]:
        return (self[at] for at in range(len(self)))
