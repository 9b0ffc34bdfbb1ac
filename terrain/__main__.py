"""The command line by the name of the package: `python -m terrain`."""

from __future__ import annotations

from terrain_start import run

if __name__ == "__main__":
    run()
