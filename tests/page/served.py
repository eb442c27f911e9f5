"""A served page for tests: one server in this process, and plain requests to it."""

from __future__ import annotations

import http.client
import json
import tempfile
import threading
from contextlib import contextmanager
from pathlib import Path

import pytest

from sowcal.commands import page
from sowcal.commands.open import served
from sowcal.commands.parser import parse

DAY = "2019-05-20"  # within the bundled record, and past by every clock
CROPS = ("courgette", "leek", "lettuce (leaf)")


@contextmanager
def few_steps():
    """Fewer steps of the sliders than the command has, and settings of these tests alone: steps take its time."""
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory() as home:
        patch.setattr(page, "_RELIABILITIES", (0.8,))
        patch.setattr(page, "_LEAST_YIELDS", (0.5,))
        patch.setattr(page, "_WATERS", (100.0,))
        followed = page.on_less_water  # of the page the first crop alone has its stored water at once
        patch.setattr(page, "on_less_water", lambda site, crops, *rest: followed(site, crops[:1], *rest))
        patch.setenv("SOWCAL_HOME", home)
        yield Path(home)


class Server:
    """`sowcal open` on a free port, its page of a few crops."""

    def __init__(self, folder: Path, idle: float = 600.0):
        ready = threading.Event()
        self.folder = folder
        self.server = served(
            folder, parse(["page", *CROPS, "--issued", DAY]), idle, lambda guard: self._begun(guard, ready)
        )
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": self.server.held}, daemon=True)
        self.thread.start()
        assert ready.wait(30)

    def _begun(self, guard, ready):
        self.guard, self.port, self.address = guard, guard.port, guard.address
        ready.set()

    @property
    def here(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def ask(self, method, path, body=None, **heads):
        """Status, heads and body of one request; the host and, where something is sent, the origin are right unless
        said otherwise; None leaves one away."""
        said = {
            "Host": f"127.0.0.1:{self.port}",
            "Origin": self.here if method not in ("GET", "HEAD") else None,
            **heads,
        }
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            for name, value in said.items():
                if value is not None:
                    connection.putheader(name.replace("_", "-"), value)
            data = body if body is None or isinstance(body, bytes) else json.dumps(body).encode()
            if data is not None and "Transfer_Encoding" not in said and "Content_Length" not in said:
                connection.putheader("Content-Length", str(len(data)))
            small, send = bytearray(), connection.send
            if data is not None and len(data) < 10_000:
                # head and body at once: a server that refuses by the head alone hangs up on a body that comes later
                connection.send = small.extend
            connection.endheaders()
            if data is not None:
                connection.send(data)
            connection.send = send
            if small:
                connection.send(bytes(small))
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read()
        finally:
            connection.close()

    def enter(self) -> str:
        """Use the token; the cookie as it is sent back."""
        status, heads, _ = self.ask("GET", self.address.removeprefix(self.here))
        assert status == 303
        return heads["Set-Cookie"].split(";")[0]

    def end(self):
        self.server.should_exit = True
        self.thread.join(20)
        assert not self.thread.is_alive()
