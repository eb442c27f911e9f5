"""What an answer was made with: version, crop tables and record, so that the same answer can be made again.

Fingerprints are the first 16 hexadecimal digits of a SHA-256 (FIPS 180-4) over values, not over files: a table that was
only written with other line ends keeps its fingerprint.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from sowcal.languages import phrase, say, say_count

__all__ = [
    "FEWER_STARTS",
    "MadeBy",
    "fingerprint_of",
    "source_digest",
]

_DIGITS, _SHORT = 16, 8
FEWER_STARTS = phrase(
    "starts are walked every {every} days only: an edge of a window may lie a day off, seldom more, and a short window "
    "may be missed"
)


def fingerprint_of(parts: Iterable[bytes]) -> str:
    """Fingerprint of pieces of data, told apart by their lengths."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(len(part).to_bytes(8, "little"))
        digest.update(part)
    return digest.hexdigest()[:_DIGITS]


@cache
def source_digest() -> str:
    """Version and source of the package, so that a changed engine begins anew even under the same version."""
    digest = hashlib.blake2b(_version().encode(), digest_size=16)
    root = files("sowcal")
    if isinstance(root, Path):
        for module in sorted(root.rglob("*.py")):
            digest.update(module.read_bytes())
    return digest.hexdigest()


def _version() -> str:
    import sowcal

    return sowcal.__version__


@dataclass(frozen=True)
class MadeBy:
    """Where an answer comes from.

    Attributes
    ----------
    crop_tables : str or None
        Fingerprint of the crop tables with a grower's own values laid over them; None where no crop is judged.
    records : tuple of str
        Fingerprint of the days of each weather record, in the order in which the answer names the places.
    version : str
        Version of this package.
    every : int
        Every how many days a start was walked.
    """

    crop_tables: str | None = None
    records: tuple[str, ...] = ()
    version: str = field(default_factory=_version)
    every: int = 1

    def to_json(self) -> dict[str, Any]:
        """Plain dict with keys `program`, `version`, `crop_tables` and `records`; `every` where it is not each day."""
        return {
            "program": "sowcal",
            "version": self.version,
            "crop_tables": self.crop_tables,
            "records": list(self.records),
            **({"every": self.every} if self.every > 1 else {}),
        }

    def short(self) -> str:
        """One sentence for the foot of a page."""
        made_from = [say("crop tables {tables}", tables=self.crop_tables[:_SHORT])] if self.crop_tables else []
        if self.records:
            each = dict.fromkeys(r[:_SHORT] for r in self.records)  # a place beside itself has one record
            made_from.append(say_count(len(each), "record {names}", "records {names}", names=say(" and ").join(each)))
        if self.every > 1:
            made_from.append(say("starts every {count} days", count=self.every))
        if not made_from:
            return say("Made by sowcal {version}.", version=self.version)
        return say("Made by sowcal {version} from {parts}.", version=self.version, parts=", ".join(made_from))
