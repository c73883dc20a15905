"""Where the other pages stand, and the code that a phone reads off a printed page."""

from __future__ import annotations

import io
from dataclasses import dataclass

from markupsafe import Markup


@dataclass(frozen=True, slots=True)
class Links:
    """Addresses a page points to; an empty one is not shown.

    The defaults are those of the coach's own copy on disk; ``publish`` gives the public ones.
    """

    feed_url: str = ""  # https address of the calendar feed, to paste into a calendar
    webcal_url: str = ""  # the same as a link that subscribes at a tap
    file_url: str = "plan.ics"  # the one-off calendar file
    page_url: str = ""  # public address of the page itself
    card_url: str = "race-card.html"
    course_url: str = "../course.html"
    board_url: str = ""
    debrief_url: str = ""  # once the race is run


def qr_code(address: str) -> Markup:
    """The address as a QR code in SVG, dark on light whatever the page's colours."""
    import segno

    out = io.BytesIO()
    # Any mask is read; trying all eight for the prettiest costs more than the rest of the page's head.
    segno.make(address, error="m", micro=False, mask=0).save(
        out,
        kind="svg",
        xmldecl=False,
        svgns=False,
        nl=False,
        dark="#000",
        light="#fff",
        border=4,
        svgclass="qr",
        lineclass=None,
        omitsize=True,
    )
    return Markup(out.getvalue().decode())
