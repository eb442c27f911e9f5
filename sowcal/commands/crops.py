"""`sowcal crops`: where each crop's numbers come from."""

from __future__ import annotations

import argparse

from sowcal.answers import open_handbook
from sowcal.commands.common import print_json, show
from sowcal.crops.find import find_crops
from sowcal.crops.records import Crop
from sowcal.crops.sheet import basis_counts, sheet, unknown_values
from sowcal.made_by import MadeBy
from sowcal.outputs.text_crops import basis_text, list_text, sheet_text

__all__ = ["run"]


def _entry(crop: Crop) -> dict:
    return {
        "crop": crop.name,
        "botanical_name": crop.botanical_name,
        "family": crop.family,
        "synonyms": list(crop.synonyms),
    }


def run(options: argparse.Namespace) -> int:
    """Print a list of crops, one crop's sheet, or the table of bases."""
    book = open_handbook(options.crop_files)
    made_by = MadeBy(book.fingerprint)
    if options.basis:
        counts = basis_counts(book)
        if options.json:
            print_json({"tables": {t: dict(c) for t, c in counts.items()}, "made_by": made_by.to_json()})
        else:
            show(f"{len(book)} crop types\n\n{basis_text(counts)}")
        return 0
    found = find_crops(book, " ".join(options.words)) if options.words else list(book.values())
    if options.json:
        print_json({"crops": [_entry(c) for c in found], "made_by": made_by.to_json()})
    elif len(found) == 1:
        name = found[0].name
        show(sheet_text(found[0], sheet(book, name), unknown_values(book, name)))
        show(f"\n{made_by.short()}")
    else:
        show(list_text(found))
    return 0
