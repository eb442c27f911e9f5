"""`sowcal compare`: two places side by side."""

from __future__ import annotations

import argparse

from sowcal.answers import compare_sites, site_climate
from sowcal.commands.common import columns, issued, print_json, settings_of, show, sites_and_crops, tell, unicode_screen
from sowcal.errors import InputError
from sowcal.outputs.json_form import compare_json

__all__ = ["run"]


def _sites(words: list[str], changed: bool) -> tuple[str, str, list[str]]:
    from sowcal.weather.bundled import bundled_names

    sites, words = sites_and_crops(words, 2)
    sites = sites or list(bundled_names()[:2])
    if len(sites) == 1 and changed:
        sites *= 2  # a plot against itself under the changes, or its whole record beside some years of it
    if len(sites) < 2:
        raise InputError(f"compare needs two sites; what follows {sites[0]!r} is no bundled plot, file or LAT,LON")
    return sites[0], sites[1], words


def run(options: argparse.Namespace) -> int:
    """Print what the second place gains and loses against the first, or write the picture of both."""
    first, second, crops = _sites(options.words, bool(options.what_ifs or options.years))
    years = ("" if first == second else options.years, options.years)
    day = issued(options)
    result = compare_sites(
        first,
        second,
        crops,
        settings_of(options),
        what_ifs=((), options.what_ifs),
        crop_files=options.crop_files,
        years=years,
        issued=day,
    )
    for warning in result.warnings:
        tell(warning)
    if options.out:
        from sowcal.outputs.files import write_output

        def pictures():
            from sowcal.outputs.figure_climate import climate_figures
            from sowcal.outputs.figure_compare import beside_figures

            places = [
                site_climate(first, years=years[0], issued=day),
                site_climate(second, what_ifs=options.what_ifs, years=years[1], issued=day),
            ]
            return [*climate_figures(places, issued=day), *beside_figures(result, issued=day)]

        for path in write_output(options.out, figures=pictures, answer=lambda: compare_json(result)):
            tell(f"wrote {path}")
    elif options.json:
        print_json(compare_json(result))
    else:
        from sowcal.outputs.text_compare import compare_text

        show(compare_text(result, width=columns(options), unicode=unicode_screen(options)))
    return 0
