"""The race: how this runner runs this course, by effort.

Receives: ``Course``, features, ``CourseDemands``, ``Form``, race settings, limits.
Gives: ``RacePlan`` with ``GoalCheck`` (types.py).
"""
