"""What leaves the house: the coach's own folder, the site and the server, a night, a board.

Receives: blocks, and the plans that ``pipeline`` makes of them.
Gives: files swapped whole, a site with private addresses, pages of the squad.
"""

from planbuilder.delivery.files import build
from planbuilder.delivery.pages import course_page, course_parts, note_of, splits_of
from planbuilder.delivery.site import (
    accept_as_they_stand,
    changes_message,
    count_changes_as_told,
    first_accepted,
    publish_block,
    serve_block,
)
from planbuilder.delivery.squad import (
    accept_night,
    board_over,
    night_on,
    nights_not_accepted,
    other_blocks_to_tell,
    out_of_step,
)

__all__ = [
    "accept_as_they_stand",
    "accept_night",
    "board_over",
    "build",
    "changes_message",
    "count_changes_as_told",
    "course_page",
    "course_parts",
    "first_accepted",
    "night_on",
    "nights_not_accepted",
    "note_of",
    "other_blocks_to_tell",
    "out_of_step",
    "publish_block",
    "serve_block",
    "splits_of",
]
