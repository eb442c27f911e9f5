"""`sowcal garden`: how many plants, how much bed, how much water, how long the tank lasts."""

from __future__ import annotations

import argparse
from pathlib import Path

from sowcal.commands.common import columns, print_json, tell, unicode_screen
from sowcal.errors import InputError
from sowcal.garden.garden_file import (
    Garden,
    bundled_garden,
    bundled_garden_names,
    read_garden_file,
)
from sowcal.garden.plan import plan_garden

__all__ = ["run"]


def _garden_of(words: list[str]) -> Garden:
    """The garden of a call: a bundled one by name, or a file; the first bundled one where none is named."""
    if not words:
        return bundled_garden()
    if len(words) > 1:
        raise InputError(f"one garden at a time; {', '.join(words)} are {len(words)}")
    word = words[0].strip()
    if word.lower() in bundled_garden_names():
        return bundled_garden(word)
    path = Path(word)
    if path.suffix.lower() == ".toml" or path.is_file():
        return read_garden_file(path)
    raise InputError(
        f"{word!r} is no garden: neither a bundled one ({', '.join(bundled_garden_names())}) nor an existing file"
    )


def run(options: argparse.Namespace) -> int:
    """Print the plan, or write it to a file."""
    from sowcal.opened import open_record, record_of, record_warnings

    garden = _garden_of(options.words)
    name, dataset = open_record(garden.site)
    plan = plan_garden(garden, name, dataset)
    for note in (*record_warnings(record_of(dataset), dataset), *plan.notes):
        tell(note)
    if options.out:
        from sowcal.outputs.figure_garden import garden_figures
        from sowcal.outputs.files import write_output

        for path in write_output(options.out, figures=lambda: garden_figures(plan), answer=plan.to_json):
            tell(f"wrote {path}")
    elif options.json:
        print_json(plan.to_json())
    else:
        from sowcal.outputs.text_garden import garden_text

        print(garden_text(plan, width=columns(options), unicode=unicode_screen(options)))
    return 0
