"""What a worker of this machine loads first: it does not hear Ctrl-C.

A terminal sends that to all processes. It is for the client, who sends the workers home.
"""

from __future__ import annotations

import signal


def dask_setup(worker: object) -> None:
    """Called by the worker before it begins."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
