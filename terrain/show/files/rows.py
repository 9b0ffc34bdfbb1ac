"""Rows of a table as text, none of which a spreadsheet takes for a formula."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pandas as pd

from terrain.show.files.whole import whole_file


def save_rows(table: pd.DataFrame, path: str | Path) -> None:
    """Write a table without places as CSV, complete or not at all, as `save_table` has texts."""
    with whole_file(path, "write a table as", ".csv") as partial:
        no_formulas(table).to_csv(partial, index=False)


def no_formulas(table: pd.DataFrame) -> pd.DataFrame:
    """A table with its texts as a CSV is to have them."""
    texts = table.select_dtypes(exclude="number")
    return table.assign(**{str(name): texts[name].map(no_formula) for name in texts})


def no_formula(value: Any) -> Any:
    """A cell of a CSV that no spreadsheet takes for a formula: text after an apostrophe.

    >>> no_formula("=1+1"), no_formula("-"), no_formula(-1.5)
    ("'=1+1", '-', -1.5)
    """
    risky = isinstance(value, str) and len(value) > 1 and value[0] in "=+-@"
    return f"'{value}" if risky else value
