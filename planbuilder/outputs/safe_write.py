"""The one way a file of ours reaches the disk: whole, or not at all, and by one writer at a time."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Final

from planbuilder.settings.problems import CannotWrite

LOCK_FILE: Final = ".lock"
_PATIENCE_S: Final = 30.0


@contextlib.contextmanager
def one_writer(state: Path, *, patience_s: float = _PATIENCE_S) -> Iterator[None]:
    """Hold the lock of a block's ``state`` folder, which is made where it is missing.

    Whoever reads and then writes anything in there holds it in between. It may be taken again by its holder.
    Raises CannotWrite when another program keeps it for longer than ``patience_s`` seconds.
    """
    import filelock

    try:
        state.mkdir(parents=True, exist_ok=True)
        lock = filelock.FileLock(state / LOCK_FILE, is_singleton=True)
        lock.acquire(timeout=patience_s)
    except filelock.Timeout as problem:
        raise CannotWrite(
            f"{state}: another planbuilder is writing here; try again in a moment."
        ) from problem
    except OSError as problem:
        raise CannotWrite(f"{state}: could not be written ({problem.strerror or problem}).") from problem
    try:
        yield
    finally:
        lock.release()


def write_whole(path: Path, data: bytes, *, mode: int = 0o644) -> bool:
    """Swap the file at ``path`` for one that holds ``data``; True if anything was written.

    The bytes are written beside it, flushed to the disk and moved over it in one step, so a reader sees the
    old file or the new one, never a part. Missing folders are made. A file that already holds these bytes is
    left alone. ``mode`` is the permission of the file, reduced by the umask. Raises CannotWrite with one
    sentence; the old file is untouched then.
    """
    return write_pieces(path, lambda: (data,), mode=mode)


def write_pieces(path: Path, pieces: Callable[[], Iterable[bytes]], *, mode: int = 0o644) -> bool:
    """The same for a file that is too long to be held in memory; ``pieces`` is asked for them up to twice."""
    try:
        if _same(path, pieces()):
            return False
        path.parent.mkdir(parents=True, exist_ok=True)
        _swap(path, pieces(), mode)
    except OSError as problem:
        raise CannotWrite(f"{path}: could not be written ({problem.strerror or problem}).") from problem
    return True


def _same(path: Path, pieces: Iterable[bytes]) -> bool:
    try:
        with path.open("rb") as file:
            return all(file.read(len(piece)) == piece for piece in pieces) and not file.read(1)
    except FileNotFoundError:
        return False


def _swap(path: Path, pieces: Iterable[bytes], mode: int) -> None:
    beside = path.with_name(f".{path.name}.{os.urandom(4).hex()}.part")
    try:  # from before the file is there, so that whatever comes in between leaves nothing behind
        with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
            file.writelines(pieces)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(mode & ~_umask())
        beside.replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    _sync_folder(path.parent)


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _sync_folder(folder: Path) -> None:
    """Make the move itself last through a power cut, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
