"""Demands: what the features of a course ask of a runner, and where in the race they ask it.

Receives: a ``Course`` and its features.
Gives: ``CourseDemands`` (types.py): class, flags, the decisive climb.
"""
