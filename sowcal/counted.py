"""A number and what it counts, so that one day is never '1 days'."""

from __future__ import annotations

__all__ = ["counted"]


def counted(count: int, noun: str, plural: str = "") -> str:
    """'1 day', '3 days', '5,479 days'; `plural` where it is not the noun with an s."""
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"
