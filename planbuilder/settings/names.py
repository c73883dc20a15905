"""People's names as others type them.

Receives: a name.
Gives: the same in small letters without accents, to find it and to put it in order.
"""

from __future__ import annotations

import unicodedata


def without_accents(name: str) -> str:
    """A name as it is typed in haste.

    >>> without_accents("Émile Größl")
    'emile grossl'
    """
    parts = unicodedata.normalize("NFKD", name.casefold())
    return "".join(part for part in parts if not unicodedata.combining(part))


def name_order(name: str) -> tuple[str, str]:
    """The key that puts names in order: Émile between Dov and Frieda."""
    return without_accents(name), name
