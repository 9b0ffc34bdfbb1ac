"""What a command needs last, loaded while it works on what comes before.

Kernels let go of the interpreter, and to load a module takes nothing but the interpreter. What is
loaded may work something out then, on a core that has little to do while the rest is loaded.
"""

from __future__ import annotations

from contextlib import suppress
from importlib import import_module
from threading import Thread


def load_ahead(module: str, *, prepare: str | None = None) -> Thread:
    """Load a module on a thread; whoever imports it meanwhile waits until it is there.

    One that cannot be loaded is said to be so where it is imported. prepare: a function of it, of
    no arguments, that is called then: it works out what is asked for later.
    """

    def load() -> None:
        with suppress(Exception):
            loaded = import_module(module)
            if prepare is not None:
                getattr(loaded, prepare)()

    thread = Thread(target=load)
    thread.start()
    return thread
