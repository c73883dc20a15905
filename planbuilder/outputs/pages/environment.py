"""Where the templates stand, and one compiled environment for the whole process."""

from __future__ import annotations

import base64
import contextlib
import hashlib
import io
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from markupsafe import Markup

import planbuilder
from planbuilder.outputs.pages.words import unbroken
from planbuilder.settings.cached import cache_folder

if TYPE_CHECKING:
    from jinja2 import Environment


def templates_folder() -> Path:
    """The folder of templates: inside the package when installed, beside it in a checkout."""
    package = Path(planbuilder.__file__).parent
    inside = package / "templates"
    return inside if inside.is_dir() else package.parent / "templates"


@cache
def environment() -> Environment:
    """The templates; a missing name is an error and every text is escaped.

    They are compiled once for each text of theirs and kept among the user's cached files.
    """
    from jinja2 import Environment, FileSystemBytecodeCache, FileSystemLoader, StrictUndefined
    from jinja2.bccache import Bucket

    class Kept(FileSystemBytecodeCache):
        """A cache that a full disk cannot stop."""

        def dump_bytecode(self, bucket: Bucket) -> None:
            with contextlib.suppress(OSError):
                super().dump_bytecode(bucket)

    folder = cache_folder()
    made = Environment(
        loader=FileSystemLoader(templates_folder()),
        bytecode_cache=None if folder is None else Kept(str(folder), "page-%s.bin"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.filters["unbroken"] = unbroken
    made.filters["em"] = em
    return made


def em(pixels: float, letters: float = 16.0) -> str:
    """A length in pixels as one that grows with the letters it is drawn among, which are so large.

    >>> em(14.0), em(13.0, 13)
    ('0.875em', '1em')
    """
    return f"{pixels / letters:.4g}em"


@dataclass(frozen=True, slots=True)
class Dress:
    """Style and script of a page, with the policy that allows these two and nothing else."""

    style: Markup
    script: Markup
    policy: str


@cache
def dress(*scripts: str) -> Dress:
    """The house style with the named scripts, joined into one."""
    folder = templates_folder()
    style = (folder / "style.css").read_text("utf-8")
    script = "\n".join((folder / name).read_text("utf-8") for name in scripts)
    policy = (
        f"default-src 'none'; style-src '{_digest(style)}'; script-src '{_digest(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )
    return Dress(Markup(style), Markup(script), policy)


def render(template: str, **values: object) -> str:
    """The page of a template."""
    return environment().get_template(template).render(**values)


def render_large(template: str, **values: object) -> bytes:
    """The same for a page that is too long to stand in memory twice."""
    page = io.BytesIO()
    stream = environment().get_template(template).stream(**values)
    stream.enable_buffering(1000)
    stream.dump(page, encoding="utf-8")
    return page.getvalue()


def _digest(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
