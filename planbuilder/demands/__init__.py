"""Demands: what the features of a course ask of a runner, and where in the race they ask it.

Receives: a ``Course`` and its features.
Gives: ``CourseDemands`` (types.py): class, flags, the decisive climb.
"""

from planbuilder.demands.find import find_demands
from planbuilder.demands.types import CourseClass, CourseDemands, Demand, DemandKind

__all__ = ["CourseClass", "CourseDemands", "Demand", "DemandKind", "find_demands"]
