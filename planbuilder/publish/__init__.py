"""Showing the plans: a site folder for any web host, private addresses, the small server, what changed.

Receives: plans, a function that renders a runner's pages, the block's folder (for its ``state``).
Gives: the files of a site, a ``PublishReport`` with every address, a message about what changed.
"""

from planbuilder.publish.addresses import Address
from planbuilder.publish.changes import changes, nothing_new
from planbuilder.publish.folder import PublishReport, publish, site_in_memory
from planbuilder.publish.server import block_stamp, serve
from planbuilder.publish.site import RunnerPages, SharedPages, Site

__all__ = [
    "Address",
    "PublishReport",
    "RunnerPages",
    "SharedPages",
    "Site",
    "block_stamp",
    "changes",
    "nothing_new",
    "publish",
    "serve",
    "site_in_memory",
]
