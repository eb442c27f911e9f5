"""What `sowcal open` refuses, each by a request as an attacker sends it; that it saves whole, or not at all."""

from __future__ import annotations

import csv
import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
import tomllib
from concurrent.futures import ThreadPoolExecutor
from itertools import product
from pathlib import Path

import pytest

pytest.importorskip("starlette")

from sowcal.__main__ import main
from sowcal.commands import open as open_room
from sowcal.commands import open_desk
from sowcal.commands.open import _shortcut
from sowcal.commands.open_desk import Desk
from sowcal.commands.parser import parse
from sowcal.errors import InputError
from sowcal.saved_settings import recall
from sowcal.season_log import COLUMNS, SeasonLog, log_path

sys.path.insert(0, str(Path(__file__).parent))
from served import CROPS, DAY, Server, few_steps

LINE = {"event": "tank", "amount": "10", "date": DAY}


@pytest.fixture(scope="module")
def own():
    """Settings of these tests alone."""
    with few_steps() as home:
        yield home


@pytest.fixture(scope="module")
def server(own, tmp_path_factory):
    one = Server(tmp_path_factory.mktemp("folder"))
    yield one
    one.end()


@pytest.fixture(scope="module")
def cookie(server):
    """The cookie, and what the tests of the token need to be true before and after it is used."""
    wrong = server.ask("GET", "/?token=" + "A" * len(server.guard.token))
    assert wrong[0] == 403
    assert "Set-Cookie" not in wrong[1]
    used = server.address.removeprefix(server.here)
    made = server.enter()
    again = server.ask("GET", used)
    assert again[0] == 403
    assert "Set-Cookie" not in again[1]
    assert server.ask("GET", "/?token=")[0] == 403  # a token that is used up is not an empty one
    return made


def written(own, server):
    """Everything that a request could have changed."""
    return {str(p): p.read_bytes() for root in (own, server.folder) for p in root.rglob("*") if p.is_file()}


def test_the_token_opens_once_and_the_cookie_is_held_close(server, cookie):
    assert server.ask("GET", "/page.css", Cookie=cookie)[0] == 200
    assert re.fullmatch(rf"sowcal-{server.port}=[\w-]{{43}}", cookie)
    other = Server(server.folder)
    try:
        _, heads, _ = other.ask("GET", other.address.removeprefix(other.here))
        assert {part.strip() for part in heads["Set-Cookie"].split(";")[1:]} == {
            "HttpOnly",
            "SameSite=Strict",
            "Path=/",
        }
        assert other.ask("GET", "/", Cookie=cookie.replace(str(server.port), str(other.port)))[0] == 403
    finally:
        other.end()


@pytest.mark.parametrize(
    ("heads", "status"),
    [
        ({"Cookie": None}, 403),
        ({"Cookie": "sowcal-{port}=" + "A" * 43}, 403),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "http://127.0.0.1:1"}, 403),
        ({"Origin": "https://127.0.0.1:{port}"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": None}, 403),
        ({"Sec_Fetch_Site": "cross-site"}, 403),
        ({"Sec_Fetch_Site": "same-site"}, 403),
        ({"Host": "evil.example:{port}"}, 421),
        ({"Host": "localhost:{port}"}, 421),
        ({"Host": "127.0.0.1"}, 421),
        ({"Host": None}, 421),
    ],
)
def test_what_is_not_this_page_changes_and_reads_nothing(own, server, cookie, heads, status):
    said = {name: None if value is None else value.format(port=server.port) for name, value in heads.items()}
    before = written(own, server)
    if status == 421 and heads["Host"] is None:  # the server itself answers to a request without a host
        assert server.ask("POST", "/log", LINE, **{"Cookie": cookie, **said})[0] in (400, 421)
    else:
        assert server.ask("POST", "/log", LINE, **{"Cookie": cookie, **said})[0] == status
    assert written(own, server) == before
    if "Origin" not in heads or heads["Origin"] is not None:  # a navigation has none
        code, answered, body = server.ask("GET", "/answer/log.json", **{"Cookie": cookie, **said})
        assert code in (400, 403, 421)
        assert "Access-Control-Allow-Origin" not in answered
        assert b"entries" not in body


def test_every_answer_has_the_strict_policy(server, cookie):
    known = {"Cookie": cookie}
    for path, heads in (("/", known), ("/page.js", known), ("/nothing", known), ("/", {})):
        _, found, _ = server.ask("GET", path, **heads)
        policy = found["Content-Security-Policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert found["X-Content-Type-Options"] == "nosniff"
        assert found["Cache-Control"] == "no-store"


@pytest.mark.parametrize(
    "path",
    [
        "/../pyproject.toml",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/page.css/../../page.py",
        "/..%2fopen_app.py",
        "/answer/..%2f..%2fx.json",
    ],
)
def test_no_file_is_read_by_its_path(server, cookie, path):
    status, _, body = server.ask("GET", path, Cookie=cookie)
    assert status in (404, 405, 422)
    assert b"[project]" not in body
    assert b"root:" not in body
    assert b"import" not in body


@pytest.mark.parametrize(
    "name",
    [
        "../evil.csv",
        "..%2Fevil.csv",
        "%2Ftmp%2Fevil.csv",
        "a%00.csv",
        ".evil.csv",
        "evil.toml",
        "evil.py",
        "",
        "a%5C..%5Cb.csv",
    ],
)
def test_no_file_is_written_outside_the_folder_or_of_another_kind(own, server, cookie, name):
    before, around = written(own, server), sorted(server.folder.parent.iterdir())
    assert server.ask("PUT", f"/record?name={name}", b"date,tmin,tmax\n", Cookie=cookie)[0] == 422
    assert written(own, server) == before
    assert sorted(server.folder.parent.iterdir()) == around


def test_a_link_out_of_the_folder_is_not_followed(server, cookie, tmp_path):
    outside = tmp_path / "outside.csv"
    outside.write_text("mine\n", encoding="utf-8")
    (server.folder / "link.csv").symlink_to(outside)
    (server.folder / "place.toml").symlink_to(tmp_path / "place.toml")
    (tmp_path / "place.toml").write_text('name = "x"\nlatitude = 38\n[weather]\nsource = "station"\n', encoding="utf-8")
    try:
        assert server.ask("PUT", "/record?name=link.csv", b"other\n", Cookie=cookie)[0] == 422
        assert outside.read_text(encoding="utf-8") == "mine\n"
        for place in ("place.toml", "../place.toml", str(tmp_path / "place.toml"), "38,-8"):
            for address in ("/place/choose", "/place/beside"):
                assert server.ask("POST", address, {"place": place}, Cookie=cookie)[0] == 422
        assert recall().here == ""
    finally:
        (server.folder / "link.csv").unlink()
        (server.folder / "place.toml").unlink()


def test_an_upload_is_bounded_whatever_it_says_of_itself(own, server, cookie):
    before = written(own, server)
    assert server.ask("PUT", "/record?name=a.csv", b"", Cookie=cookie, Content_Length="20000001")[0] == 413
    piece = b"100000\r\n" + b"x" * 0x100000 + b"\r\n"
    chunks = piece * 20 + b"0\r\n\r\n"
    try:
        status = server.ask("PUT", "/record?name=a.csv", chunks, Cookie=cookie, Transfer_Encoding="chunked")[0]
    except (BrokenPipeError, ConnectionResetError):  # it was shut before all was sent
        status = 413
    assert status == 413
    assert server.ask("POST", "/log", {"note": "x" * 200_000}, Cookie=cookie)[0] == 422
    assert server.ask("POST", "/log", b"[1", Cookie=cookie)[0] == 422
    assert server.ask("POST", "/log", b"[" * 90_000, Cookie=cookie)[0] == 422
    assert written(own, server) == before


def test_two_windows_writing_the_log_at_once_lose_nothing(server, cookie):
    """Two servers, as two starts of the program are, and two windows of each."""
    other = Server(server.folder)
    second = other.enter()
    before = SeasonLog.open(log_path("sallowdene")).entries
    answers = []

    def write(one, its, which):
        for n in range(4):
            note = f"{which} {n}"
            answers.append(one.ask("POST", "/log", {**LINE, "note": note}, Cookie=its)[0])

    windows = [(server, cookie), (server, cookie), (other, second), (other, second)]
    threads = [threading.Thread(target=write, args=(*pair, k)) for k, pair in enumerate(windows)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    other.end()
    assert answers == [200] * 16
    notes = [e.note for e in SeasonLog.open(log_path("sallowdene")).entries[len(before) :]]
    assert sorted(notes) == sorted(f"{k} {n}" for k in range(4) for n in range(4))


def test_answers_are_those_of_the_commands(own, server, cookie, capsys):
    """Each answer against what the command prints with --json, for the same crops on the same day."""
    said = ["sallowdene", CROPS[0], "--json", "--issued", DAY]
    crops = f"crop={CROPS[0]}"
    asked = {
        f"rate.json?{crops}&change=mulch": ["rate", *said, "--with", "mulch"],
        f"chart.json?{crops}": ["chart", *said],
        f"week.json?{crops}": ["week", *said, "--date", DAY],
        "climate.json": ["climate", "sallowdene", "--json", "--issued", DAY],
        "garden.json": ["garden", "sallowdene", "--json", "--issued", DAY],
        "season.json": ["season", "sallowdene", "--json", "--date", DAY, "--issued", DAY],
    }
    line = {"event": "set out", "crop": "courgette", "date": "2019-05-10"}
    assert server.ask("POST", "/log", line, Cookie=cookie)[0] == 200
    for path, words in asked.items():
        capsys.readouterr()
        assert main(words) == 0, words
        told = json.loads(capsys.readouterr().out)
        status, _, body = server.ask("GET", f"/answer/{path}".replace(" ", "%20"), Cookie=cookie)
        assert status == 200, (path, body[:300])
        assert json.loads(body) == told, path


def test_the_page_of_one_file_tells_of_the_log_too(own, tmp_path):
    """What is set out is told in its own section, and no job of the week any more."""
    log = SeasonLog.open(log_path("wrackhythe"))
    words = ["page", "wrackhythe", "courgette", "--issued", DAY, "--out", str(tmp_path / "p.html")]
    assert main(words) == 0
    before = (tmp_path / "p.html").read_text(encoding="utf-8")
    log.append("set out", "courgette", date=DAY)
    assert main(words) == 0
    after = (tmp_path / "p.html").read_text(encoding="utf-8")
    job = 'data-crop="courgette" data-event="set out"'
    assert job in before
    assert job not in after
    assert 'id="log"' in after
    assert 'id="log"' not in before
    assert 'href="#log"' in after


def test_it_ends_when_nobody_asks_and_when_it_is_told(own, tmp_path):
    one = Server(tmp_path, idle=0.4)
    one.thread.join(20)
    assert not one.thread.is_alive()
    two = Server(tmp_path)
    its = two.enter()
    assert two.ask("POST", "/end", {}, Cookie=None)[0] == 403
    assert two.thread.is_alive()
    assert two.ask("POST", "/end", {}, Cookie=its)[0] == 200
    two.thread.join(20)
    assert not two.thread.is_alive()


def test_what_another_program_moves_while_it_is_planned_stays(tmp_path, monkeypatch):
    """Planning takes seconds, and the start day of another crop may be written within them."""
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    one, other = (Desk(tmp_path, parse(["page", *CROPS, "--issued", DAY])) for _ in range(2))
    planned = []

    def meanwhile(garden, *_, **__):
        planned.append({s.crop: s.day for s in garden.starts})
        if len(planned) == 1:
            other._start("carrot", [open_desk.Start("carrot", "sown outdoors", 70)])

    monkeypatch.setattr(open_desk, "garden_plan", meanwhile)  # what is tried is the saving
    one._start("leek", [open_desk.Start("leek", "set out", 130)])
    assert planned == [{"leek": 130}, {"carrot": 70}, {"carrot": 70, "leek": 130}]
    starts = tomllib.loads((tmp_path / "sallowdene.garden.toml").read_text(encoding="utf-8"))["starts"]
    assert [(s["crop"], s["day"]) for s in starts] == [("carrot", "03-12"), ("leek", "05-11")]
    one._start("leek", [])
    starts = tomllib.loads((tmp_path / "sallowdene.garden.toml").read_text(encoding="utf-8"))["starts"]
    assert [s["crop"] for s in starts] == ["carrot"]


def test_two_programs_at_once_take_no_name_twice(tmp_path, monkeypatch):
    """Each finds the name free, and both records stand; of two gardens that are begun one is refused."""
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    desks = [Desk(tmp_path, parse(["page", *CROPS, "--issued", DAY])) for _ in range(4)]
    write = open_desk.write_bytes
    monkeypatch.setattr(open_desk, "write_bytes", lambda *said: (time.sleep(0.005), write(*said)))  # time to collide in
    with ThreadPoolExecutor(4) as pool:
        names = list(pool.map(lambda k: desks[k % 4].bring("a.csv", b"%d" % k), range(24)))
    assert len(set(names)) == 24
    assert {(tmp_path / n).read_bytes() for n in names} == {b"%d" % k for k in range(24)}
    form = {"name": "Mine", "people": "1", "beds": "1", "length": "2", "width": "1"}

    def quicker(*_, **__):
        (tmp_path / "wrackhythe.garden.toml").write_text("# another's\n", encoding="utf-8")

    monkeypatch.setattr(open_desk, "garden_plan", quicker)
    monkeypatch.setattr(Desk, "word", "wrackhythe")
    with pytest.raises(InputError, match="a garden already"):
        desks[0].begin_garden(form)
    assert (tmp_path / "wrackhythe.garden.toml").read_text(encoding="utf-8") == "# another's\n"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="stops a copy of this process")
def test_killed_in_the_middle_of_a_save_it_leaves_whole_files(tmp_path, monkeypatch):
    """Killed with a part of a file written, and before each of its calls about files in turn."""
    import resource

    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(open_desk, "garden_plan", lambda *_, **__: None)  # what is tried is the saving
    folder = tmp_path / "folder"
    folder.mkdir()
    desk = Desk(folder, parse(["page", *CROPS, "--issued", DAY]))
    record = b"date,tmin,tmax\n" + b"2001-01-01,1,2\n" * 3000

    def save(word):
        desk.star("leek", word == "b")
        desk.write_down({**LINE, "note": word})
        desk.bring(f"{word}.csv", record)
        desk._start("leek", [open_desk.Start("leek", "set out", 130 if word == "b" else 150)])

    save("a")
    states, kills = set(), 0
    saves = (
        lambda: desk.star("leek", True),
        lambda: desk.bring("b.csv", record),
        lambda: desk._start("leek", [open_desk.Start("leek", "set out", 130)]),
    )
    for one, most in product(saves, (100, 400)):  # bytes of a file, at which it is killed with a part of them written
        child = os.fork()
        if not child:
            signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))
            one()
            os._exit(0)
        assert os.WTERMSIG(os.waitpid(child, 0)[1]) == signal.SIGXFSZ
        garden = tomllib.loads((folder / "sallowdene.garden.toml").read_text(encoding="utf-8"))
        assert garden["starts"][0]["day"] == "05-31"
        assert "leek" not in recall().mine
        assert [p.name for p in folder.glob("*.csv")] == ["a.csv"]
    for k in range(1, 200):
        child = os.fork()
        if not child:
            seen = [0]

            def hook(event, args, seen=seen, k=k):
                about = event in ("open", "os.rename", "os.link", "os.remove", "os.mkdir")
                if about and ("/proc/self" in str(args[0]) or str(args[0]).startswith(str(tmp_path))):
                    seen[0] += 1
                    if seen[0] == k:
                        os.kill(os.getpid(), signal.SIGKILL)

            sys.addaudithook(hook)
            save("b")
            os._exit(0)
        killed = os.WIFSIGNALED(os.waitpid(child, 0)[1])
        kills += killed
        kept = recall()
        garden = tomllib.loads((folder / "sallowdene.garden.toml").read_text(encoding="utf-8"))
        with open(log_path("sallowdene"), encoding="utf-8", newline="") as file:
            lines = list(csv.reader(file))
        assert lines[0] == list(COLUMNS)
        assert all(line[:2] == [DAY, "tank"] and line[7] in ("a", "b") for line in lines[1:])
        assert all(p.read_bytes() == record for p in folder.glob("*.csv"))
        day = garden["starts"][0]["day"]
        assert day in ("05-11", "05-31")
        states.add(("leek" in kept.mine, len(lines), (folder / "b.csv").exists(), day))
        if not killed:
            break
    assert not killed
    assert kills > 10
    assert len(states) > 3  # kills fell between the saves, and within them


def test_a_shortcut_starts_it_without_a_terminal(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path / "home"))
    monkeypatch.setattr(sys, "platform", "linux")
    assert main(["open", "--shortcut", "--folder", str(tmp_path / 'my "plots" 100%')]) == 0
    text = (tmp_path / "applications" / "sowcal.desktop").read_text(encoding="utf-8")
    assert text.startswith("[Desktop Entry]\nType=Application\n")
    assert f'Exec="{sys.executable}" "-m" "sowcal" "open" "--folder"' in text
    assert '\\\\"plots\\\\" 100%%"' in text
    with pytest.raises(InputError, match="control character"):
        _shortcut(Path("a\nExec=evil"), "linux")


@pytest.mark.skipif(sys.platform == "win32", reason="the file for macOS is run by a shell")
def test_shortcuts_of_other_systems_name_the_same_call(tmp_path, monkeypatch):
    """The file for macOS is run by this system's shell, with a stand-in for Python that tells its arguments; that for
    Windows is only read: it was never tried there."""
    monkeypatch.setattr(open_room, "_desktop", lambda: tmp_path / "Desktop")
    monkeypatch.setattr(sys, "executable", "/usr/bin/printf")
    folder = tmp_path / "my 'plots' $HOME 100%"
    path = _shortcut(folder, "darwin")
    assert path.name == "sowcal.command"
    path.write_text(path.read_text(encoding="utf-8").replace("printf -m", "printf '%s|' -m"), encoding="utf-8")
    said = subprocess.run([str(path)], capture_output=True, text=True, check=True).stdout
    assert said == f"-m|sowcal|open|--folder|{folder}|"
    lines = _shortcut(folder, "win32").read_text(encoding="utf-8").splitlines()
    assert lines[-1] == f'"/usr/bin/printf" "-m" "sowcal" "open" "--folder" "{folder}%"'


def test_what_is_lacking_is_named_in_a_sentence(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SOWCAL_HOME", str(tmp_path))
    monkeypatch.setitem(sys.modules, "uvicorn", None)
    assert main(["open", "--no-browser", "--folder", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "pip install 'sowcal[open]'" in said
    assert "Traceback" not in said
    assert main(["open", "sallowdene"]) == 2
