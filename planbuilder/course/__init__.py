"""The course: from a file or a description to a profile that can be trusted.

Receives: the race settings and the files of the block folder they name.
Gives: a ``Course`` (types.py), its features, its splits and the coach's remarks.
"""
