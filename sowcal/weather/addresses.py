"""Where weather may be fetched from: the declared hosts over verified TLS, or what the user names in the environment.

Certificates are checked by requests and urllib as they come. Here the addresses are checked before anything is asked,
and so is every address that an answer leads on to.
"""

from __future__ import annotations

import os
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from urllib.parse import urljoin, urlsplit

from sowcal.errors import NetworkError

__all__ = ["HOSTS", "check_addresses", "only_known_hosts"]

# Of the yearly files and of the list of stations (its second home). Neither leads elsewhere: the service's own guide
# (dev.meteostat.net) fetches files with a plain `curl`, which follows no redirection.
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
        own = _own(setting)
        for address in _said(config, setting):
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


def _own(setting: str) -> bool:
    return f"MS_{setting.upper()}" in os.environ


def _said(config: Any, setting: str) -> list[str]:
    said = getattr(config, setting)
    return [said] if isinstance(said, str) else list(said)


def _named_hosts(config: Any) -> frozenset[str]:
    """Hosts that are declared or that the user named."""
    named = [urlsplit(a).hostname for setting in _SETTINGS if _own(setting) for a in _said(config, setting)]
    return HOSTS | frozenset(filter(None, named))


def _astray(before: str, after: str, hosts: frozenset[str]) -> str:
    """Why a redirection is not followed, '' where it is; `after` may be without host, or relative."""
    parts = urlsplit(urljoin(before, after))
    if parts.scheme != urlsplit(before).scheme and parts.scheme != "https":
        return f"it leads from https to {parts.scheme}"
    if parts.hostname not in hosts:
        return f"it leads to another host, {str(parts.hostname)[:200]!r}"
    return ""


@contextmanager
def only_known_hosts(config: Any) -> Iterator[None]:
    """Within it, neither urllib (which reads yearly files for pandas) nor requests are led away by a redirection.

    They go on to hosts that are declared or that the user named, and never from TLS to plain text.

    Parameters
    ----------
    config
        Settings of meteostat, as for `check_addresses`.
    """
    import requests

    hosts = _named_hosts(config)

    class Redirects(urllib.request.HTTPRedirectHandler):
        def redirect_request(self, req, fp, code, msg, headers, newurl):
            if why := _astray(req.full_url, newurl, hosts):
                raise urllib.error.HTTPError(req.full_url, code, why, headers, fp)
            return super().redirect_request(req, fp, code, msg, headers, newurl)

    opener = urllib.request._opener  # type: ignore[attr-defined]  # there is no public way to ask which one is in use
    follow = requests.Session.get_redirect_target

    def checked(self: requests.Session, resp: requests.Response) -> str | None:
        target = follow(self, resp)
        if target and (why := _astray(resp.url, target, hosts)):
            raise requests.exceptions.InvalidURL(why)
        return target

    urllib.request.install_opener(urllib.request.build_opener(Redirects))
    requests.Session.get_redirect_target = checked  # type: ignore[method-assign, assignment]
    try:
        yield
    finally:
        urllib.request._opener = opener  # type: ignore[attr-defined]
        requests.Session.get_redirect_target = follow  # type: ignore[method-assign, assignment]
