"""The pages people read, print and pin up.

Receives: finished plans, or a course with its features; nothing here computes training.
Gives: text of whole HTML files that need no network: ``plan.html``, ``race-card.html``, ``course.html``,
``index.html`` (the board) and ``coach.html``.

Everything a template prints is prepared in Python as plain dataclasses; templates loop and print.
"""

from __future__ import annotations

from planbuilder.outputs.pages.board_page import board_frame, board_of
from planbuilder.outputs.pages.card_page import render_race_card
from planbuilder.outputs.pages.coach_page import coach_entry, coach_frame, coach_of
from planbuilder.outputs.pages.course_page import render_course
from planbuilder.outputs.pages.debrief_page import render_debrief, render_squad_debrief, result_line
from planbuilder.outputs.pages.links import Links
from planbuilder.outputs.pages.plan_page import render_plan
from planbuilder.outputs.pages.weeks import WeekDone

__all__ = [
    "Links",
    "WeekDone",
    "board_frame",
    "board_of",
    "coach_entry",
    "coach_frame",
    "coach_of",
    "render_course",
    "render_debrief",
    "render_plan",
    "render_race_card",
    "render_squad_debrief",
    "result_line",
]
