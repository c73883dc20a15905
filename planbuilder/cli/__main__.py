"""``python -m planbuilder.cli`` is the command itself."""

from planbuilder.cli import main

main()
