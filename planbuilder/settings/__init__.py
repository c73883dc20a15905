"""Settings: everything a person may write, every number a rule uses, and what can go wrong at a door.

Receives: the text of ``block.toml``, ``club.toml`` and ``sessions.toml``; ``limits.toml`` of the package.
Gives: validated settings (models.py), ``Limits`` (limits.py), ``Note`` (notes.py), errors (problems.py).
"""
