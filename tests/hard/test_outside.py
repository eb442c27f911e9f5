"""No file is written, renamed or removed outside the place asked for: Python itself is asked (audit events)."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import samples

PROGRAM = """
import json, os, sys
touched = []

def hear(event, given):
    if event == "open":
        path, mode, flags = given
        writes = any(c in (mode or "") for c in "wax+") or (flags or 0) & (os.O_WRONLY | os.O_RDWR | os.O_CREAT)
        if writes and isinstance(path, (str, bytes, os.PathLike)):
            touched.append(os.fsdecode(path))
    elif event in ("os.rename", "os.link", "os.symlink"):
        touched.extend(os.fsdecode(p) for p in given[:2])
    elif event in ("os.remove", "os.mkdir", "os.rmdir", "os.chmod", "os.truncate", "shutil.rmtree", "os.utime"):
        touched.append(os.fsdecode(given[0]) if not isinstance(given[0], int) else "")
    elif event in ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork", "socket.connect"):
        touched.append(f"({event} {given[0]})")

sys.addaudithook(hear)
from sowcal.__main__ import main
from pathlib import Path

codes = []
for words in json.loads(sys.argv[1]):
    try:
        codes.append(main(words))
    except SystemExit as end:
        codes.append(end.code)
print(json.dumps({"codes": codes, "touched": [os.path.abspath(p) if p[:1] != "(" else p for p in touched if p]}))
"""


def touched(folder: Path, calls: list[list[str]]) -> tuple[list[int], list[str]]:
    """Exit codes of calls in one process, and what it wrote, renamed or removed."""
    env = {
        **{k: v for k, v in os.environ.items() if not k.startswith("MS_")},
        "HOME": str(folder / "home"),
        "MPLCONFIGDIR": str(folder / "fonts"),
        "SOWCAL_CACHE": str(folder / "kept"),
        "TMPDIR": str(folder / "temporary"),
        "PYTHONDONTWRITEBYTECODE": "1",
        "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
        "MPLBACKEND": "Agg",
    }
    for name in ("home", "fonts", "temporary", "work", "out"):
        (folder / name).mkdir()
    (folder / "work" / "site.toml").write_text(samples.SITE_OF_NORMALS)
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, json.dumps(calls)], env=env, cwd=folder / "work", capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout.splitlines()[-1])
    return told["codes"], told["touched"]


def test_only_what_was_asked_for_is_written(tmp_path):
    out = tmp_path / "out"
    names = ["c.svg", "c.ics", "c.json"]
    calls = [["chart", "site.toml", "radish", "--out", str(out / n)] for n in names]
    calls += [["page", "site.toml", "radish", "--out", str(out / "p.html")]]
    calls += [["weather", "export", "site.toml", "--out", str(out / n)] for n in ("r.csv", "r.nc")]
    calls += [["chart", "site.toml", "radish"], ["crops", "radish"], ["weather", "list"], ["week", "site.toml", "pea"]]
    codes, seen = touched(tmp_path, calls)
    assert codes == [0] * len(calls)
    # matplotlib asks the system for its fonts once and keeps the list; a file without a name is linked from /proc
    allowed = [
        out,
        tmp_path / "kept" / "answers",
        tmp_path / "kept",
        tmp_path / "fonts",
        Path(os.devnull),
        Path("(subprocess.Popen fc-list)"),
        Path("/proc/self/fd"),
    ]
    assert [p for p in seen if not any(Path(p) == a or a in Path(p).parents for a in allowed)] == []
    assert sorted(p.name for p in out.iterdir()) == sorted([*names, "p.html", "r.csv", "r.nc"])
    assert any(p.startswith(str(out)) for p in seen)  # else nothing was heard at all


def test_refusals_write_nothing(tmp_path):
    out = tmp_path / "out"
    (tmp_path / "bad.csv").write_text("date,tmin_degC,tmax_degC\n2001-01-01,5,3\n")
    (tmp_path / "up.toml").write_text(
        samples.SITE_OF_FILE.replace('"record.csv"', '"../../../../../etc/hostname"') + "\n"
    )
    (tmp_path / "id.toml").write_text(
        'name = "P"\nlatitude = 1\n[weather]\nsource = "station"\nid = "../../../../tmp/x"\n'
    )
    calls = [
        ["climate", str(tmp_path / "bad.csv"), "--out", str(out / "a.json")],
        ["weather", "export", str(tmp_path / "up.toml"), "--out", str(out / "a.csv")],
        ["climate", str(tmp_path / "id.toml"), "--out", str(out / "a.json")],
        ["weather", "fetch", "../x"],
        ["weather", "clear", "../../x"],
        ["chart", "site.toml", "radish", "--out", str(out / "a.exe")],
        ["chart", "site.toml", "no such crop", "--out", str(out / "a.json")],
        ["page", "site.toml", "radish", "--out", str(tmp_path / "none" / "a.html")],
    ]
    codes, seen = touched(tmp_path, calls)
    assert codes == [2] * len(calls)
    # what was read on the way (handbook, days) may be kept prepared in the cache folder
    own = {tmp_path / "fonts", tmp_path / "kept" / "prepared", Path("/proc/self/fd")}
    seen = [p for p in seen if Path(p).parent.is_dir() and not own & {Path(p), *Path(p).parents}]
    assert [p for p in seen if p not in (os.devnull, str(tmp_path / "kept"))] == []
    assert list(out.iterdir()) == []
