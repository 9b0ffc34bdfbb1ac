"""terrain: where to stand for a hill above the mist with the sunrise behind it.

Every public name is here, listed in `__init__.pyi` by what a user asks; a module is loaded when a
name of it is first used.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
