"""Outputs: what leaves the house, each a pure function of the plan.

Receives: finished plans, courses, findings of the rules.
Gives: calendars (calendar/), pages (pages/), tables and text for the terminal, JSON; ``safe_write`` puts
them on the disk whole.
"""
