"""planbuilder: a block of weeks and a race plan made from the course a squad will race on."""

__version__ = "0.1.0"
