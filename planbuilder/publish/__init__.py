"""Showing the plans: a site folder for any web host, private addresses, the small server, what changed.

Receives: who is on it, each runner's part as it is made, the block's folder (for its ``state``).
Gives: the files of a site, a ``PublishReport`` with every address, a message about what changed.
"""

from planbuilder.publish.addresses import Address
from planbuilder.publish.changes import changes, nothing_new, say_changes
from planbuilder.publish.folder import LastInFolder, Parts, PublishReport, Site, publish, site_in_memory
from planbuilder.publish.sent import SentFeed, count_as_told
from planbuilder.publish.server import block_stamp, serve
from planbuilder.publish.site import LastBytes, Making, Part, SharedPages, part_of

__all__ = [
    "Address",
    "LastBytes",
    "LastInFolder",
    "Making",
    "Part",
    "Parts",
    "PublishReport",
    "SentFeed",
    "SharedPages",
    "Site",
    "block_stamp",
    "changes",
    "count_as_told",
    "nothing_new",
    "part_of",
    "publish",
    "say_changes",
    "serve",
    "site_in_memory",
]
