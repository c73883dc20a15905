"""The plan as a calendar that people subscribe to.

Receives: a ``Plan``, the revision of each of its sessions, and the address of the runner's page.
Gives: the bytes of an iCalendar file (RFC 5545, RFC 7986), the UID and the digest behind each event, and a
strict check of such bytes. Pure functions; the same values give the same bytes on any machine.
"""

from planbuilder.outputs.calendar.check import check_feed
from planbuilder.outputs.calendar.content import EventContent, content_of, contents_of
from planbuilder.outputs.calendar.feed import UnfitFeed, write_feed, write_notice
from planbuilder.outputs.calendar.fingerprint import fingerprint_of
from planbuilder.outputs.calendar.identity import Revision, first_revisions, meaning_digest, uid_of

__all__ = [
    "EventContent",
    "Revision",
    "UnfitFeed",
    "check_feed",
    "content_of",
    "contents_of",
    "fingerprint_of",
    "first_revisions",
    "meaning_digest",
    "uid_of",
    "write_feed",
    "write_notice",
]
