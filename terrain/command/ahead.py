"""What a command needs last, loaded while it works on what comes before.

Kernels let go of the interpreter, and to load a module takes nothing but the interpreter. What is
loaded may work something out then, on a core that has little to do while the rest is loaded.
"""

from __future__ import annotations

from contextlib import suppress
from pkgutil import resolve_name
from threading import Thread


def load_ahead(*names: str) -> Thread:
    """Load modules on a thread, in order; whoever imports one meanwhile waits until it is there.

    Names are `module`, or `module:function` for one that is called then, without arguments: it
    works out what is asked for later. What cannot be loaded is said to be so where it is imported.
    """

    def load() -> None:
        for name in names:
            with suppress(Exception):
                found = resolve_name(name)
                if ":" in name:
                    found()

    thread = Thread(target=load)
    thread.start()
    return thread
