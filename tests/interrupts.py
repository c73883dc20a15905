"""A process that is to be interrupted must hear it: jobs in the background often start deaf to Ctrl-C."""

from __future__ import annotations

import signal


def hear_ctrl_c() -> None:
    """Answer SIGINT as in a terminal; called in the child before it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)
