"""What tests of every part share."""

from __future__ import annotations

import ast
import contextlib
import os
import signal
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path
from unittest import mock

import pytest

from sowcal.kept_files import keeping

# What a shell starts beside itself hears no interrupt, nor do its children, and some tests interrupt theirs.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

HERE = Path(__file__).parent
# The quick lane (`-m quick`) for daily work: kernels, readers and outputs, and each command once. Of these folders all
# but the files named below it, which open stations on this machine, draw, or go through every crop of many records.
QUICK_FOLDERS = ("climate", "crops", "garden", "outputs", "seasons", "suitability", "weather")
NOT_QUICK = {
    "climate/test_against_xclim.py",
    "garden/test_july_by_hand.py",
    "garden/test_plan.py",
    "garden/test_rain_fed.py",
    "outputs/test_figures.py",
    "seasons/test_against_a_loop.py",
    "seasons/test_cut_anywhere.py",
    "seasons/test_flowering.py",
    "suitability/test_perennial_runs.py",
    "suitability/test_season_in_progress.py",
    "suitability/test_steps_of_settings.py",
    "suitability/test_true_reasons.py",
    "weather/test_addresses.py",
    "weather/test_cache.py",
    "weather/test_findings.py",
    "weather/test_formats.py",
    "weather/test_generator.py",
    "weather/test_quality.py",
    "weather/test_schemas_of_stations.py",
    "weather/test_station.py",
    "weather/test_station_hours.py",
}
QUICK_FILES = {"test_layers.py", "test_no_outside_papers.py", "commands/test_commands.py"}


# Files of some ten seconds of processor and more, the longest first: begun last, one of them would keep one process
# busy while the others have nothing left to do.
LONG = (
    "hard/test_answers_kept.py",
    "commands/test_options_together.py",
    "hard/test_contradictions.py",
    "commands/test_schemas.py",
    "page/test_page_text.py",
    "page/test_page_sliders.py",
    "page/test_page_browser.py",
    "hard/test_same_bytes.py",
    "validation/test_yardsticks.py",
    "commands/test_remembered.py",
    "commands/test_commands.py",
    "hard/test_extremes.py",
    "weather/test_cache.py",
    "garden/test_plan.py",
    "validation/test_perennials.py",
    "validation/test_hindcast.py",
    "validation/test_notebook.py",
    "hard/test_streams.py",
    "hard/test_bounds.py",
    "seasons/test_cut_anywhere.py",
    "notebooks/test_notebooks.py",
    "benchmarks/test_run.py",
    "test_public_names.py",
)


def pytest_configure(config: pytest.Config) -> None:
    """Files are handed out in the order of LONG; xdist would begin with those of the most tests."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Long files first; mark what belongs to the quick lane."""
    place = {HERE / name: k for k, name in enumerate(LONG)}
    items.sort(key=lambda item: place.get(item.path, len(place)))
    for item in items:
        if HERE not in item.path.parents:
            continue
        name = item.path.relative_to(HERE).as_posix()
        if name in QUICK_FILES or (name.split("/")[0] in QUICK_FOLDERS and name not in NOT_QUICK):
            item.add_marker("quick")


def not_checked(reports: list) -> list[str]:
    """Lines that tell how many tests were left out for want of the reference folder, and what each file of them checks.

    Parameters
    ----------
    reports : list of pytest.TestReport
        Of the tests that were skipped.
    """
    lacking = Counter(r.nodeid.partition("::")[0] for r in reports if "SOWCAL_REFERENCE" in str(r.longrepr))
    if not lacking:
        return []
    n = lacking.total()
    tests = f"{n} tests were left out: they read" if n > 1 else "1 test was left out: it reads"
    lines = [f"{tests} station records and printed values that stand outside the project"]
    for name, count in sorted(lacking.items()):
        path = HERE.parent / name
        about = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) if path.is_file() else None
        lines.append(f"{count:4} {name}: {(about or 'says nothing of itself').splitlines()[0]}")
    return lines


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say what a run without the reference folder has not checked."""
    if lines := not_checked(terminalreporter.stats.get("skipped", [])):
        terminalreporter.section("not checked without SOWCAL_REFERENCE")
        for line in lines:
            terminalreporter.line(line)


@pytest.fixture(scope="session")
def reference_folder() -> Path:
    """Folder of published values (`reference`) and station records (`weather`) that are not part of the project."""
    named = os.environ.get("SOWCAL_REFERENCE")
    if not named:
        pytest.skip("SOWCAL_REFERENCE is not set: it names the folder of published values and station records")
    folder = Path(named)
    if not folder.is_dir():
        pytest.skip(f"SOWCAL_REFERENCE names {named}, which is not a folder")
    return folder


@pytest.fixture(autouse=True, scope="session")
def no_files_of_the_user(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Crops, place and list of whoever runs the tests must not decide them, nor be changed by them.

    Programs that tests start have the same environment. A test that lets something be remembered names a folder of its
    own: what stood in this one would reach the tests after it.
    """
    os.environ["SOWCAL_CROPS"] = ""
    home = tmp_path_factory.mktemp("settings")
    os.environ["SOWCAL_HOME"] = str(home)
    # below a file no folder can be made: no answer of one test is kept for another, which may have changed the engine
    file = tmp_path_factory.mktemp("cache") / "a file"
    file.write_text("", encoding="utf-8")
    os.environ["SOWCAL_CACHE"] = str(file / "below")
    yield
    assert list(home.iterdir()) == [], "a test has left settings to the tests after it"


@pytest.fixture(scope="session")
def answers_of_this_run(tmp_path_factory: pytest.TempPathFactory) -> Callable[[], AbstractContextManager[None]]:
    """Within it an answer that this run of the tests has worked out before is read again, in either process.

    The whole handbook at a bundled plot is asked for by many tests. A kept answer is a fresh one to the byte
    (test_kept_answers.py). For tests that leave the engine as it is, and do not look at how it reckons.
    """
    own = tmp_path_factory.getbasetemp()
    folder = (own.parent if os.environ.get("PYTEST_XDIST_WORKER") else own) / "answers of this run"

    @contextlib.contextmanager
    def within() -> Iterator[None]:
        room = mock.patch("sowcal.kept_answers.MOST_BYTES", 500_000_000)  # some forty records of 3 MB
        with mock.patch.dict(os.environ, {"SOWCAL_CACHE": str(folder)}), room, keeping():
            yield

    return within


@pytest.fixture
def answers_kept_between_tests(answers_of_this_run: Callable[[], AbstractContextManager[None]]) -> Iterator[None]:
    """The whole test within `answers_of_this_run`."""
    with answers_of_this_run():
        yield
