"""Where things are shown: one address per runner that nobody can guess and that never changes by itself."""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal
from urllib.parse import urlsplit

from planbuilder.outputs.safe_write import write_whole
from planbuilder.settings.problems import InputProblems, Problem

Purpose = Literal["runner", "board", "coach"]
FEED_FILE: Final = "plan.ics"
RUNNER_FILES: Final = ("plan.html", "race-card.html", "course.html", "debrief.html")
BOARD_FILES: Final = ("index.html", "course.html")
COACH_FILES: Final = ("coach.html", "debrief.html")
_SECRET_FILE: Final = "secret"
_SECRET_OCTETS: Final = 32


@dataclass(frozen=True, slots=True)
class Address:
    """Where one runner's files are shown. Whoever knows it can read them."""

    key: str  # of the runner
    name: str
    folder: str  # the part of the path that cannot be guessed
    page_url: str
    card_url: str
    course_url: str
    feed_url: str  # to paste into a calendar, or to download once
    webcal_url: str  # the same as a link that subscribes at a tap


class Addresses:
    """Makes every address of a block from its secret, so that they can be printed again."""

    def __init__(self, secret: bytes, base_url: str) -> None:
        self._secret = secret
        self.base_url = base_url.rstrip("/")

    def folder(self, purpose: Purpose, key: str, renewal: int = 0) -> str:
        """The unguessable folder: 52 letters and digits, 256 bits, safe on disks that ignore case."""
        message = "\n".join((purpose, key, str(renewal))).encode()
        digest = hmac.new(self._secret, message, hashlib.sha256).digest()
        return base64.b32encode(digest).decode().rstrip("=").lower()

    def url(self, folder: str, file: str) -> str:
        """The public address of a file."""
        return f"{self.base_url}/{folder}/{file}"

    def runner(self, key: str, name: str, renewal: int) -> Address:
        """Where this runner's files are shown."""
        folder = self.folder("runner", key, renewal)
        page, card, course, _ = (self.url(folder, file) for file in RUNNER_FILES)
        feed = self.url(folder, FEED_FILE)
        webcal = f"webcal://{feed.partition('://')[2]}"
        return Address(key, name, folder, page, card, course, feed, webcal)


def read_secret(state: Path) -> bytes:
    """The secret of a block, made on first use; call it with the lock of the folder held."""
    path = state / _SECRET_FILE
    if not path.exists():
        write_whole(path, f"{secrets.token_hex(_SECRET_OCTETS)}\n".encode(), mode=0o600)
    return known_secret(state)


def known_secret(state: Path) -> bytes:
    """The secret of a block that has one. InputProblems where it cannot be read."""
    path = state / _SECRET_FILE
    try:
        text = path.read_text("ascii").strip()
    except PermissionError as problem:
        must = "the secret must be readable for addresses to be known"
        todo = "Only who publishes can read it: ask them to run this."
        raise InputProblems([Problem(str(path), None, must, "permission denied", todo)]) from problem
    except (OSError, UnicodeDecodeError) as problem:
        raise _bad_secret(path, str(problem)) from problem
    try:
        secret = bytes.fromhex(text)
    except ValueError:
        secret = b""
    if len(secret) != _SECRET_OCTETS:
        raise _bad_secret(path, "not something else")
    return secret


def _bad_secret(path: Path, found: str) -> InputProblems:
    must = f"the secret must be {_SECRET_OCTETS * 2} hexadecimal digits"
    todo = "Put back your copy of it; without this file every runner needs a new address."
    return InputProblems([Problem(str(path), None, must, found, todo)])


def check_base_url(text: str) -> str:
    """The address under which the site is shown, without a slash at its end; InputProblems if it is none."""
    parts = urlsplit(text)
    odd = any(character.isspace() or not character.isprintable() for character in text)
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query or parts.fragment or odd:
        must = "the address of the site must be one such as https://plans.club.example"
        raise InputProblems([Problem("--base-url", None, must, f"not {text!r}")])
    if parts.username or parts.password:
        must = "the address of the site must hold no user and no password"
        raise InputProblems([Problem("--base-url", None, must)])
    return text.rstrip("/")
