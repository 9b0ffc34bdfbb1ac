"""What a command needs last, loaded while it works on what comes before.

Kernels let go of the interpreter, and to load a module takes nothing but the interpreter.
"""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread


def load_ahead(module: str) -> Thread:
    """Load a module on a thread; whoever imports it meanwhile waits until it is there.

    One that cannot be loaded is said to be so where it is imported.
    """

    def load() -> None:
        with suppress(Exception):
            import_module(module)

    thread = Thread(target=load)
    thread.start()
    return thread
