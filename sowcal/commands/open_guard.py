"""Who may speak with the served page: this machine's own browser, by a token of one use and then a cookie.

A page of any other address that the same browser shows can send requests to 127.0.0.1 too. So every request must name
this server as its host, and none may come from another origin; what changes anything must say that it comes from here.
"""

from __future__ import annotations

import hmac
import secrets
import time
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any

__all__ = ["MOST_BODY", "POLICY", "Guard"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

# A hundred years of days with ten columns come to some 4 MB; what is larger is no record of a garden. Common practice.
MOST_BODY = 20_000_000
# Scripts, styles and answers of this server alone; nothing written into the page runs.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self'; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'none'"
)
_HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}
_READS = ("GET", "HEAD")


class _TooMuch(Exception):
    """A body that goes on past what is taken."""


class Guard:
    """Around an ASGI application: refuses, in a sentence, whatever is not this machine's own browser.

    Attributes
    ----------
    port : int
        The server's; set when it is known.
    token : str
        Opens the page once; then empty.
    asked : float
        When somebody who may was heard last, by the clock that never goes back, s.
    """

    def __init__(self, app: App, *, port: int = 0, most_body: int = MOST_BODY):
        self._app, self._most = app, most_body
        self.port, self.token, self.asked = port, secrets.token_urlsafe(32), time.monotonic()
        self._session = secrets.token_urlsafe(32)

    @property
    def address(self) -> str:
        """Address of the page, with the token."""
        return f"http://127.0.0.1:{self.port}/?token={self.token}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # nothing here speaks by a socket that stays open
            return
        heads = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        if refusal := self._refused(scope, heads):
            await _answer(send, *refusal)
            return
        if (token := self._token_of(scope)) is not None:
            await self._opened_by(token, heads, send)
            return
        if not self._known(heads):
            await _answer(send, 403, "This page is open to the browser that `sowcal open` opened; start it again.")
            return
        self.asked = time.monotonic()
        taken = 0

        async def received() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > self._most:  # whatever length was said
                raise _TooMuch
            return message

        async def sent(message: Message) -> None:
            if taken > self._most:  # what the application makes of its end is not the answer
                return
            if message["type"] == "http.response.start":
                kept = [pair for pair in message["headers"] if pair[0].decode("latin-1").lower() not in _HEADERS]
                message["headers"] = [*kept, *((k.encode(), v.encode()) for k, v in _HEADERS.items())]
            await send(message)

        try:
            await self._app(scope, received, sent)
        except _TooMuch:
            await _answer(send, 413, self._too_large())

    def _too_large(self) -> str:
        return f"That is more than {self._most / 1e6:g} MB, and no record of one place; send the days of one."

    def _refused(self, scope: Scope, heads: dict[str, str]) -> tuple[int, str] | None:
        """Status and sentence where a request is not from a page of this server."""
        here = f"127.0.0.1:{self.port}"
        hosts = [v for k, v in scope["headers"] if k == b"host"]
        if len(hosts) != 1 or heads["host"] != here:
            return 421, "This server answers to 127.0.0.1 alone."
        origin = heads.get("origin")
        if origin is not None and origin != f"http://{here}":
            return 403, "This came from a page of another address, and nothing was done."
        reads = scope["method"] in _READS
        if not reads and (origin is None or heads.get("sec-fetch-site", "same-origin") != "same-origin"):
            return 403, "Nothing is changed from outside the page."
        if reads and heads.get("sec-fetch-site", "none") not in ("none", "same-origin"):
            return 403, "This came from a page of another address, and nothing is shown to it."
        length = heads.get("content-length", "0")
        if not length.isdigit() or int(length) > self._most:
            return 413, self._too_large()
        return None

    @staticmethod
    def _token_of(scope: Scope) -> str | None:
        if scope["path"] != "/" or scope["method"] != "GET":
            return None
        asked = [part.partition("=") for part in scope["query_string"].decode("latin-1").split("&")]
        return next((value for name, _, value in asked if name == "token"), None)  # its letters need no escapes

    async def _opened_by(self, token: str, heads: dict[str, str], send: Send) -> None:
        """Give the cookie for a token that is right and was not used; who has the cookie needs none."""
        right = bool(self.token) and hmac.compare_digest(token.encode(), self.token.encode())
        if right:
            self.token, self.asked = "", time.monotonic()
            cookie = f"{self._name}={self._session}; HttpOnly; SameSite=Strict; Path=/"
            await _answer(send, 303, "", {"location": "/", "set-cookie": cookie})
        elif self._known(heads):  # a reload of the first address
            await _answer(send, 303, "", {"location": "/"})
        else:
            await _answer(send, 403, "This address was used, or is not the right one; start `sowcal open` again.")

    @property
    def _name(self) -> str:
        return f"sowcal-{self.port}"  # browsers do not part cookies by ports

    def _known(self, heads: dict[str, str]) -> bool:
        try:
            found = SimpleCookie(heads.get("cookie", "")).get(self._name)
        except CookieError:
            return False
        return found is not None and hmac.compare_digest(found.value.encode(), self._session.encode())


async def _answer(send: Send, status: int, text: str, more: dict[str, str] | None = None) -> None:
    """A plain sentence, under the same heads as the page."""
    body = text.encode("utf-8")
    heads = {**_HEADERS, "content-type": "text/plain; charset=utf-8", "content-length": str(len(body)), **(more or {})}
    pairs = [(name.encode("latin-1"), value.encode("latin-1")) for name, value in heads.items()]
    await send({"type": "http.response.start", "status": status, "headers": pairs})
    await send({"type": "http.response.body", "body": body})
