"""The program that uses sowcal is left as it was: by imports, by a first answer, and by fetches side by side."""

from __future__ import annotations

import json
import os
import subprocess
import sys

from local_service import Service, environment, low_of, running, write_station_list

_STATE = """
import gc, locale, logging, os, signal, socket, sys, threading, urllib.request, warnings

def state():
    loggers = {None: logging.root, **logging.root.manager.loggerDict}
    return {
        "environment": dict(os.environ),
        "folder": os.getcwd(),
        "path": list(sys.path),
        "hooks": [repr(h) for h in (sys.excepthook, sys.displayhook, sys.breakpointhook, threading.excepthook)],
        "streams": [repr(s) for s in (sys.stdin, sys.stdout, sys.stderr)],
        "signals": {int(s): repr(signal.getsignal(s)) for s in signal.valid_signals()},
        "filters": [repr(f) for f in warnings.filters],
        "warned": repr(warnings.showwarning),
        "loggers": {
            str(n): [l.level, l.propagate, l.disabled, [repr(h) for h in l.handlers], [repr(f) for f in l.filters]]
            for n, l in loggers.items()
            if isinstance(l, logging.Logger) and (n is None or not n.startswith("sowcal"))
        },
        "timeout": socket.getdefaulttimeout(),
        "opener": repr(urllib.request._opener),
        "locale": locale.setlocale(locale.LC_ALL),
        "recursion": sys.getrecursionlimit(),
        "collector": [gc.isenabled(), gc.get_threshold()],
        "threads": [t.name for t in threading.enumerate()],
    }
"""

# Libraries that sowcal rests on are loaded before, so that what is counted is this package's own doing.
_IMPORTS = (
    _STATE
    + """
import importlib, json, pkgutil

LIBRARIES = '''
    ctypes dask distributed filelock h5netcdf h5py icalendar matplotlib.figure matplotlib.backends.backend_agg
    multiprocessing numpy.random pandas platformdirs requests scipy.optimize scipy.sparse scipy.stats subprocess xarray
    zarr'''
for name in LIBRARIES.split():
    try:
        importlib.import_module(name)
    except ImportError:
        pass
import numpy, matplotlib
numpy_before, matplotlib_before = numpy.geterr(), dict(matplotlib.rcParams)
heard, listening = [], True
EVENTS = tuple('''ctypes. socket. subprocess. os.putenv os.unsetenv os.system os.fork os.exec os.posix_spawn os.mkdir
    os.remove os.rename os.chdir signal. urllib. winreg. mmap. sys.addaudithook'''.split())

def hear(event, given):
    writes = event == "open" and isinstance(given[1], str) and set(given[1]) & set("wax+")
    if listening and (event.startswith(EVENTS) or writes):
        heard.append([event, repr(given)[:200]])

sys.addaudithook(hear)
before = state()
import sowcal
names = [m.name for m in pkgutil.walk_packages(sowcal.__path__, "sowcal.")]
for name in names:
    importlib.import_module(name)
sowcal.sowing_chart("sallowdene", ["radish"])
after = state()
listening = False
changed = {k: [before[k], after[k]] for k in before if before[k] != after[k]}
if numpy.geterr() != numpy_before or dict(matplotlib.rcParams) != matplotlib_before:
    changed["numpy or matplotlib"] = True
print(json.dumps({"heard": heard, "changed": changed, "modules": len(names)}))
"""
)


def _run(code: str, env: dict[str, str]) -> dict:
    env = {**env, "PYTHONPATH": os.pathsep.join(p for p in sys.path if p), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout.splitlines()[-1])


def _differences(before, after):
    """What of a kind of state differs, in short."""
    if isinstance(before, dict):
        return {k: (before.get(k), after.get(k)) for k in {**before, **after} if before.get(k) != after.get(k)}
    if isinstance(before, list):
        return [x for x in before if x not in after], [x for x in after if x not in before]
    return before, after


def test_importing_every_module_and_a_first_answer_change_nothing():
    got = _run(_IMPORTS, dict(os.environ))
    assert got["modules"] > 50
    assert got["heard"] == []
    assert {k: _differences(*v) for k, v in got["changed"].items()} == {}


_FETCHES = (
    _STATE
    + """
import json, requests
from concurrent.futures import ThreadPoolExecutor
from datetime import date
import meteostat
from sowcal.errors import SowcalError
from sowcal.weather.stations import get_station
from sowcal.weather.station_hours import get_station_hours

def seen():
    own = {k: getattr(meteostat.config, k) for k in dir(meteostat.config) if not k.startswith("_")}
    return {
        **state(),
        "threads": None,
        "filters": None,  # xarray sets its own while it reads times, which threads do not keep apart
        "requests": [repr(requests.Session.get_redirect_target), repr(requests.get), repr(requests.head)],
        "meteostat": {k: repr(v) for k, v in own.items() if not callable(v)},
    }

days = lambda years: get_station("90001", years=years, today=date(2021, 3, 1))
hours = lambda years: get_station_hours("90002", years=years, today=date(2021, 3, 1))

def fails(_):
    try:
        days_of = get_station("90004", years=1, today=date(2021, 3, 1))
    except SowcalError as problem:
        return str(problem)

get_station("90002", years=1, today=date(2021, 3, 1))  # what the libraries beneath do as they are loaded is theirs
before = seen()
during = []
with ThreadPoolExecutor(4) as pool:
    # the one that begins first ends first, while others have begun: what each puts back must not be another's
    asked = [pool.submit(get, n) for get, n in ((days, 1), (days, 6), (hours, 2), (fails, 0))]
    while not all(a.done() for a in asked):
        during.append(seen() == before)
    got = [a.result() for a in asked]
after = seen()
print(json.dumps({
    "days": [[str(d.time[0]), d.size, float(d["tasmin"][0])] for d in got[:2]],
    "hours": [int(got[2].days.size)],
    "failed": got[3],
    "during": all(during) and len(during) > 0,
    "changed": {k: [before[k], after[k]] for k in before if before[k] != after[k]},
}))
"""
)


def test_fetches_side_by_side_change_nothing_of_other_libraries(tmp_path):
    from datetime import date

    Service.asked.clear()
    with running() as address:
        env = environment(tmp_path, address + "/daily", write_station_list(tmp_path / "stations.db"))
        got = _run(_FETCHES, env)
    assert got["days"] == [
        ["2020-01-01", 425, low_of(date(2020, 1, 1))],
        ["2015-01-01", 2251, low_of(date(2015, 1, 1))],
    ]
    assert got["hours"] == [790]
    assert "error 503" in got["failed"]
    assert {k: _differences(*v) for k, v in got["changed"].items()} == {}
    assert got["during"]
    assert sum("/daily/" in p for p in Service.asked) == 2 + 2 + 7  # each yearly file of each once
