"""Where weather is fetched from: declared hosts, certificates that hold, and no way back to plain text."""

from __future__ import annotations

import contextlib
import http.server
import shutil
import ssl
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path
from types import SimpleNamespace
from typing import ClassVar

import pytest
import requests

from sowcal.errors import NetworkError
from sowcal.weather.fetch_process import HOSTS, check_addresses, only_known_hosts

sys.path.insert(0, str(Path(__file__).parent))
from local_service import ask, environment

DAILY = "https://data.meteostat.net/daily/{year}/{station}.csv.gz"


def config(daily=DAILY, lists=("https://data.meteostat.net/stations.db",)):
    return SimpleNamespace(daily_endpoint=daily, hourly_endpoint=DAILY, stations_db_endpoints=list(lists))


@pytest.fixture(autouse=True)
def no_settings(monkeypatch):
    for name in ("DAILY_ENDPOINT", "HOURLY_ENDPOINT", "STATIONS_DB_ENDPOINTS"):
        monkeypatch.delenv(f"MS_{name}", raising=False)


def test_the_addresses_of_the_package_itself_are_declared():
    import meteostat

    made = type(meteostat.config)
    check_addresses(SimpleNamespace(**{k: getattr(made, k) for k in vars(config())}))
    assert "data.meteostat.net" in HOSTS


@pytest.mark.parametrize(
    "address",
    [
        "http://data.meteostat.net/{year}/{station}.csv.gz",
        "https://data.meteostat.net.example.org/{year}",
        "https://data.meteostat.net@example.org/{year}",
        "https://example.org/{year}",
        "http://127.0.0.1:80/{year}",
        "ftp://data.meteostat.net/{year}",
        "s3://data.meteostat.net/{year}",
        "file:///etc/{station}",
        "/etc/{station}",
    ],
)
def test_no_other_address_without_the_user_s_own_setting(address):
    with pytest.raises(NetworkError, match="nothing is fetched from"):
        check_addresses(config(address))
    with pytest.raises(NetworkError, match="nothing is fetched from"):
        check_addresses(config(lists=[DAILY, address]))


@pytest.mark.parametrize(
    ("address", "allowed"),
    [
        ("https://mirror.example.org/{year}", True),
        ("http://127.0.0.1:8000/{year}", True),
        ("http://localhost/{year}", True),
        ("/home/me/weather/{year}", True),
        ("http://mirror.example.org/{year}", False),
        ("http://127.0.0.1.example.org/{year}", False),
        ("http://localhost@example.org/{year}", False),
        ("ftp://localhost/{year}", False),
        ("file:///etc/{station}", False),
    ],
)
def test_what_the_user_may_set(monkeypatch, address, allowed):
    monkeypatch.setenv("MS_DAILY_ENDPOINT", address)
    if allowed:
        check_addresses(config(address))
        return
    with pytest.raises(NetworkError, match="MS_DAILY_ENDPOINT"):
        check_addresses(config(address))


def test_a_fetch_asks_nothing_of_an_address_that_is_not_allowed(tmp_path, station_list):
    got = ask(
        tmp_path,
        "get_station('90001', years=2, today=today)",
        endpoint="http://mirror.example.org/daily",
        stations=station_list,
    )
    assert got["error"] == "NetworkError"
    assert "nothing is fetched from" in got["text"]


class _Answers(http.server.BaseHTTPRequestHandler):
    """A server that leads on to the address in the question, or answers."""

    asked: ClassVar[list[str]] = []

    def do_GET(self):
        _Answers.asked.append(self.path)
        if self.path.startswith("/away?"):
            self.send_response(302)
            self.send_header("Location", self.path.partition("?")[2])
        else:
            self.send_response(200)
        self.send_header("Content-Length", "0")
        self.end_headers()

    do_HEAD = do_GET

    def log_message(self, *_):
        pass


@pytest.fixture(scope="module")
def over_tls(tmp_path_factory):
    """Address of a server with a certificate that nobody vouches for, and that certificate."""
    if not shutil.which("openssl"):
        pytest.skip("openssl makes the certificate")
    folder = tmp_path_factory.mktemp("tls")
    names = "subjectAltName=IP:127.0.0.1,DNS:localhost"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=127.0.0.1",
         "-addext", names, "-keyout", folder / "key", "-out", folder / "certificate"],
        check=True, capture_output=True,
    )  # fmt: skip
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Answers)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(folder / "certificate", folder / "key")
    server.socket = context.wrap_socket(server.socket, server_side=True)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"https://127.0.0.1:{server.server_port}", folder / "certificate"
    server.shutdown()
    server.server_close()


def test_a_certificate_that_nobody_vouches_for_is_not_taken(tmp_path, over_tls, station_list):
    call = "get_station('90001', years=2, today=today)"
    where = {"endpoint": f"{over_tls[0]}/daily", "stations": station_list}
    got = ask(tmp_path, call, **where)
    assert got["error"] == "NetworkError"
    assert "cannot be reached" in got["text"]
    # nor by the way in which yearly files are read, when the first look is left out
    code = """
from datetime import date
import sowcal.weather.fetch_process as door
door._probe = lambda *a: None
with door.service() as ms:
    station = {"id": "90001", "name": "Ness", "latitude": 38.2, "longitude": -15.4}
    try:
        door.by_year(ms, station, date(2019, 1, 1), date(2020, 12, 31), "daily")
    except door.NetworkError as problem:
        print(problem)
"""
    env = environment(tmp_path, **where)
    done = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, timeout=120)
    assert "2 of 2 yearly files" in done.stdout, done.stderr
    assert _Answers.asked == []  # no word was spoken after the certificate


@pytest.fixture
def trusted(over_tls, monkeypatch):
    """Address of that server for programs that take its certificate, and its port."""
    address, certificate = over_tls
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    monkeypatch.setenv("REQUESTS_CA_BUNDLE", str(certificate))
    _Answers.asked.clear()
    return address, address.rpartition(":")[2]


def test_a_redirection_to_plain_text_is_not_followed(trusted, monkeypatch):
    address, _ = trusted
    monkeypatch.setenv("MS_DAILY_ENDPOINT", f"{address}/daily")
    before = urllib.request._opener
    away = f"{address}/away?http://127.0.0.1:9/plain"
    with only_known_hosts(config(f"{address}/daily")):
        with urllib.request.urlopen(f"{address}/here") as answer:
            assert answer.status == 200
        with pytest.raises(urllib.error.HTTPError, match="from https to http"):
            urllib.request.urlopen(away)
        assert requests.get(f"{address}/here").status_code == 200
        with pytest.raises(requests.exceptions.InvalidURL, match="from https to http"):
            requests.get(away)
    assert urllib.request._opener is before
    with contextlib.suppress(requests.exceptions.ConnectionError):  # as it was: the redirection is followed
        requests.get(away)


def _both(address):
    """Paths that were asked for by urllib and by requests on the way from an address; why they stopped, else ''."""
    out = []
    for way in (lambda: urllib.request.urlopen(address).close(), lambda: requests.get(address)):
        _Answers.asked.clear()
        try:
            way()
        except (urllib.error.HTTPError, requests.exceptions.InvalidURL) as problem:
            out.append((str(problem), [p.partition("?")[0] for p in _Answers.asked]))
        else:
            out.append(("", [p.partition("?")[0] for p in _Answers.asked]))
    return out


def test_a_redirection_goes_on_to_known_hosts_only(trusted, monkeypatch):
    """The same server under two names: one is the user's, the other becomes so later."""
    address, port = trusted
    other = f"https://localhost:{port}"
    monkeypatch.setenv("MS_DAILY_ENDPOINT", f"{address}/daily")
    with only_known_hosts(config(f"{address}/daily")):
        for to in (f"{other}/there", f"//localhost:{port}/there", "https://127.0.0.1.example.org/"):
            for why, asked in _both(f"{address}/away?{to}"):
                assert "another host" in why
                assert asked == ["/away"]
        for to in ("/there", "there", f"{address}/there"):
            assert _both(f"{address}/away?{to}") == [("", ["/away", "/there"])] * 2
        # through a known host and on to another
        for why, asked in _both(f"{address}/away?{address}/away?{other}/there"):
            assert "another host" in why
            assert asked == ["/away", "/away"]
    monkeypatch.setenv("MS_STATIONS_DB_ENDPOINTS", "set")
    with only_known_hosts(config(f"{address}/daily", lists=[f"{other}/stations.db"])):
        assert _both(f"{address}/away?{other}/there") == [("", ["/away", "/there"])] * 2


def test_hosts_of_settings_that_the_user_did_not_make_are_not_known(trusted):
    """The address is asked (`check_addresses` would have refused it), but leads nowhere."""
    address, _ = trusted
    with only_known_hosts(config(f"{address}/daily")):
        for why, asked in _both(f"{address}/away?{address}/there"):
            assert "another host" in why
            assert asked == ["/away"]


@pytest.mark.parametrize("host", sorted(HOSTS))
def test_the_declared_hosts_may_lead_to_one_another(trusted, host):
    address, _ = trusted
    request = urllib.request.Request(f"{address}/away")
    with only_known_hosts(config()):
        (handler,) = [h for h in urllib.request._opener.handlers if isinstance(h, urllib.request.HTTPRedirectHandler)]
        assert handler.redirect_request(request, None, 302, "", {}, f"https://{host}/x").full_url == f"https://{host}/x"
        with pytest.raises(urllib.error.HTTPError, match="another host"):
            handler.redirect_request(request, None, 302, "", {}, f"https://{host}.example.org/x")


def test_a_service_that_leads_elsewhere_is_told_in_a_sentence(tmp_path, address, station_list):
    got = ask(
        tmp_path,
        "get_station('90001', years=2, today=today)",
        endpoint=f"{address}/elsewhere/daily",
        stations=station_list,
    )
    assert got["error"] == "NetworkError"
    assert "leads to another host" in got["text"]
