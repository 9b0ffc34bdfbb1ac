"""The folder of a survey: parts that are whole or not there, and a receipt for each, written last.

::

    folder/
      survey.parquet      every hill, vantage and date, ranked
      summits.parquet     every hill of the whole, with its prominence
      parts/              what each tile gave, under a name made from all that it hangs on
      receipts/           one a part, by the same name: the part is whole, and what it took

A name holds the stamp of ground, question and code. So a part is made again when one of these has
changed, and never else; and no part that was made from another question is ever taken for it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Final

from terrain.show.files.whole import whole_file

_READ_TO_THE_END: Final = 64_000_000
"""A longer file is taken by its length alone: to read all rasters of a country takes too long."""


@dataclass(frozen=True, kw_only=True)
class Receipt:
    """A part that is whole.

    name: of the part. file: where it lies, in the folder. length: bytes. checksum: of the whole.
    tile: whose it is, from 0; -1 of what is made of all. processor_s: what it took. memory_mb: the
    most that its process had held by then. says: what is to be known without opening it.
    """

    name: str
    file: str
    length: int
    checksum: str
    tile: int = -1
    processor_s: float = 0.0
    memory_mb: float = 0.0
    says: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Folder:
    """Where a survey is kept. path: made when the first part is written."""

    path: Path

    def part(self, name: str, ending: str) -> Path:
        """Where a part lies."""
        return self.path / "parts" / f"{name}{ending}"

    def file_of(self, receipt: Receipt) -> Path:
        """Where the part of a receipt lies."""
        return self.path / receipt.file

    def receipt(self, name: str) -> Receipt | None:
        """The receipt of a part, None where it is not there, or the part is not what it says."""
        try:
            found = Receipt(**json.loads(self._receipt_file(name).read_text(encoding="utf-8")))
            whole = self.file_of(found).stat().st_size == found.length
        except (OSError, ValueError, TypeError):
            return None
        if not whole or found.name != name:
            return None
        return found if self._is_sound(found) else None

    def sign(self, name: str, file: Path, **more: Any) -> Receipt:
        """Write the receipt of a part that is there; more: its other fields."""
        receipt = Receipt(
            name=name,
            file=str(file.relative_to(self.path)),
            length=file.stat().st_size,
            checksum=_checksum(file),
            **more,
        )
        words = json.dumps(asdict(receipt), indent=1, default=str)
        with whole_file(self._receipt_file(name)) as partial:
            partial.write_text(words, encoding="utf-8")
        return receipt

    def has_whole(self, file: Path) -> bool:
        """Whether some receipt, of whatever question, says of a file what it holds now."""
        names = (each.stem for each in self._receipt_file("").parent.glob(f"{file.stem}-*.json"))
        found = (self.receipt(name) for name in names)
        return any(one is not None and self.file_of(one) == file for one in found)

    def _receipt_file(self, name: str) -> Path:
        return self.path / "receipts" / f"{name}.json"

    def _is_sound(self, receipt: Receipt) -> bool:
        if receipt.length > _READ_TO_THE_END:
            return True
        return _checksum(self.file_of(receipt)) == receipt.checksum


def _checksum(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()[:32]
