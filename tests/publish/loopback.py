"""A real server on this machine's loopback, on a port of its own, for as long as a test runs."""

from __future__ import annotations

import contextlib
import http.client
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import uvicorn


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes


class Loopback:
    """A server and a way to ask it."""

    def __init__(self, port: int) -> None:
        self.port = port

    def ask(self, path: str, method: str = "GET", **headers: str) -> Answer:
        """One request; header names are written with underscores."""
        named = [(name.replace("_", "-"), value) for name, value in headers.items()]
        return self.ask_with(path, method, named)

    def ask_with(self, path: str, method: str, headers: list[tuple[str, str]]) -> Answer:
        """One request with these header lines, a name twice where it is given twice."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)
        try:
            connection.putrequest(method, path, skip_accept_encoding=True)
            for name, value in headers:
                connection.putheader(name, value)
            connection.endheaders()
            response = connection.getresponse()
            body = response.read()
            names = {name.lower(): value for name, value in response.getheaders()}
            return Answer(response.status, names, body)
        finally:
            connection.close()


@contextlib.contextmanager
def served(app: Any, **options: Any) -> Iterator[Loopback]:
    """The application behind uvicorn."""
    values: dict[str, Any] = {"access_log": False, "log_level": "error", "server_header": False} | options
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, lifespan="off", **values))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    end = time.monotonic() + 20
    while not server.started:
        assert time.monotonic() < end, "the server did not start"
        time.sleep(0.01)
    try:
        yield Loopback(server.servers[0].sockets[0].getsockname()[1])
    finally:
        server.should_exit = True
        thread.join(20)
