"""Where weather may be fetched from: the declared hosts over verified TLS, or what the user names in the environment.

Certificates are checked by requests and urllib as they come. Here the addresses are checked before anything is asked,
and a redirection from TLS to plain text is not followed.
"""

from __future__ import annotations

import os
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urlsplit

from sowcal.errors import NetworkError

__all__ = ["HOSTS", "check_addresses", "only_tls"]

# Of the yearly files and of the list of stations (its second home).
HOSTS = frozenset({"data.meteostat.net", "raw.githubusercontent.com"})
_LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})  # a server on this computer, as the tests use
_SETTINGS = ("daily_endpoint", "hourly_endpoint", "stations_db_endpoints")


def check_addresses(config: Any) -> None:
    """Raise `NetworkError` for an address that is neither declared nor safe by the user's own setting.

    Parameters
    ----------
    config
        Settings of meteostat. One that the user set (MS_... in the environment) may name any host over https, this
        computer over http, or a folder.
    """
    for setting in _SETTINGS:
        said = getattr(config, setting)
        own = f"MS_{setting.upper()}" in os.environ
        for address in [said] if isinstance(said, str) else said:
            parts = urlsplit(address)
            host = parts.hostname or ""
            if parts.scheme == "https" and (own or host in HOSTS):
                continue
            if own and ((parts.scheme == "http" and host in _LOOPBACK) or not parts.scheme):
                continue
            raise NetworkError(
                f"nothing is fetched from {address[:200]!r}: it is not https, or no host that this program knows; mend "
                f"MS_{setting.upper()} in the environment or leave it out"
            )


def _downgrade(before: str, after: str) -> bool:
    return urlsplit(before).scheme == "https" and urlsplit(after).scheme not in ("https", "")


class _Redirects(urllib.request.HTTPRedirectHandler):
    """Redirections as usual, but never from TLS to plain text."""

    def redirect_request(self, req, fp, code, msg, headers, newurl):
        if _downgrade(req.full_url, newurl):
            raise urllib.error.HTTPError(req.full_url, code, "it leads from https to http", headers, fp)
        return super().redirect_request(req, fp, code, msg, headers, newurl)


@contextmanager
def only_tls() -> Iterator[None]:
    """Within it, neither urllib (which reads yearly files for pandas) nor requests leave TLS by a redirection."""
    import requests

    opener = urllib.request._opener  # type: ignore[attr-defined]  # there is no public way to ask which one is in use
    follow = requests.Session.get_redirect_target

    def checked(self: requests.Session, resp: requests.Response) -> str | None:
        target = follow(self, resp)
        if target and _downgrade(resp.url, target):
            raise requests.exceptions.InvalidURL("it leads from https to http")
        return target

    urllib.request.install_opener(urllib.request.build_opener(_Redirects))
    requests.Session.get_redirect_target = checked  # type: ignore[method-assign, assignment]
    try:
        yield
    finally:
        urllib.request._opener = opener  # type: ignore[attr-defined]
        requests.Session.get_redirect_target = follow  # type: ignore[method-assign, assignment]
