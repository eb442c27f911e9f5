"""`sowcal garden`: how many plants, how much bed, how much water, how long the tank lasts."""

from __future__ import annotations

import argparse

from sowcal.answers import garden_plan
from sowcal.commands.common import columns, print_json, tell, unicode_screen
from sowcal.errors import InputError

__all__ = ["run"]


def run(options: argparse.Namespace) -> int:
    """Print the plan, or write it to a file."""
    words = options.words
    if len(words) > 1:
        raise InputError(f"one garden at a time; {', '.join(words)} are {len(words)}")
    plan = garden_plan(words[0] if words else None)
    for note in plan.notes:
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
