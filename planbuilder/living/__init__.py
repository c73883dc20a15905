"""The plan after its first day: what was run, what a person changed, what that does to the rest.

    log.csv, edits.toml -> situation -> replan -> a proposal -> history

Receives: a block, a command's words, today.
Gives: proposals with every change and its reason; the history gets a line only when one is accepted.

``logged`` writes what was run, ``edited`` what a person says, ``proposals`` answers both, ``taken_back`` and
``forgotten`` take out again, ``news`` tells where a block says more than its accepted plan.
"""

from __future__ import annotations

from planbuilder.living.edited import edit, is_the_race
from planbuilder.living.forgotten import forget, waits_for_clearance
from planbuilder.living.logged import PastedLog, Understood, add_to_log, paste_into_log, register_night
from planbuilder.living.news import moved_away
from planbuilder.living.proposals import Proposal, accept, propose
from planbuilder.living.taken_back import TakenBack, undo

__all__ = [
    "PastedLog",
    "Proposal",
    "TakenBack",
    "Understood",
    "accept",
    "add_to_log",
    "edit",
    "forget",
    "is_the_race",
    "moved_away",
    "paste_into_log",
    "propose",
    "register_night",
    "undo",
    "waits_for_clearance",
]
