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
from sowcal.weather.addresses import HOSTS, check_addresses, only_tls

sys.path.insert(0, str(Path(__file__).parent))
from local_service import ask

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
    """A server that sends everybody to plain text, or answers."""

    asked: ClassVar[list[str]] = []

    def do_GET(self):
        _Answers.asked.append(self.path)
        if self.path.startswith("/away"):
            self.send_response(302)
            self.send_header("Location", "http://127.0.0.1:9/plain")
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
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=127.0.0.1",
         "-addext", "subjectAltName=IP:127.0.0.1", "-keyout", folder / "key", "-out", folder / "certificate"],
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
    got = ask(
        tmp_path,
        call,
        before="import sowcal.weather.meteostat_door as door; door._probe = lambda *a: None",
        **where,
    )
    assert got["error"] == "NetworkError"
    assert "yearly files" in got["text"]
    assert _Answers.asked == []  # no word was spoken after the certificate


def test_a_redirection_to_plain_text_is_not_followed(over_tls, monkeypatch):
    address, certificate = over_tls
    monkeypatch.setenv("SSL_CERT_FILE", str(certificate))
    before = urllib.request._opener
    with only_tls():
        with urllib.request.urlopen(f"{address}/here") as answer:
            assert answer.status == 200
        with pytest.raises(urllib.error.HTTPError, match="from https to http"):
            urllib.request.urlopen(f"{address}/away")
        assert requests.get(f"{address}/here", verify=certificate).status_code == 200
        with pytest.raises(requests.exceptions.InvalidURL, match="from https to http"):
            requests.get(f"{address}/away", verify=certificate)
    assert urllib.request._opener is before
    with contextlib.suppress(requests.exceptions.ConnectionError):  # as it was: the redirection is followed
        requests.get(f"{address}/away", verify=certificate)
