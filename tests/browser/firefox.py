"""A second browser, driven by the same protocol's newer form (W3C WebDriver BiDi), which it speaks without a driver."""

from __future__ import annotations

import contextlib
import json
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
import websocket

LONGEST_S = 120


class Second:
    """One window of the second browser."""

    def __init__(self, channel: websocket.WebSocket) -> None:
        self._channel = channel
        self._numbers = count(1)
        self._command("session.new", {"capabilities": {}})
        tree = self._command("browsingContext.getTree", {})
        self._window = tree["contexts"][0]["context"]

    def open(self, page: Path) -> None:
        """Opens a page and waits until it is loaded."""
        self._command("browsingContext.navigate", {"context": self._window, "url": page.as_uri(), "wait": "complete"})

    def value(self, expression: str) -> Any:
        """What an expression of the page gives, a promise awaited; text, number, truth or null."""
        said = self._command(
            "script.evaluate",
            {"expression": expression, "target": {"context": self._window}, "awaitPromise": True},
        )
        assert said["type"] == "success", said
        return said["result"].get("value")

    def _command(self, method: str, params: dict[str, Any]) -> Any:
        number = next(self._numbers)
        self._channel.send(json.dumps({"id": number, "method": method, "params": params}))
        while True:
            said = json.loads(self._channel.recv())
            if said.get("id") == number:
                assert said.get("type") != "error", said
                return said["result"]


@contextlib.contextmanager
def second(folder: Path) -> Iterator[Second]:
    """Starts the second browser without a window. Skips where it is not installed."""
    program = shutil.which("firefox-esr") or shutil.which("firefox")
    if program is None:
        pytest.skip("no second browser is installed here (firefox-esr)")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    folder.mkdir(parents=True, exist_ok=True)
    command = [program, "--headless", "--no-remote", "--profile", str(folder), f"--remote-debugging-port={port}"]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as process:
        try:
            channel = _channel(port)
            yield Second(channel)
            channel.close()
        finally:
            process.terminate()


def _channel(port: int) -> websocket.WebSocket:
    until = time.monotonic() + LONGEST_S
    while True:
        try:
            return websocket.create_connection(
                f"ws://127.0.0.1:{port}/session", timeout=LONGEST_S, suppress_origin=True
            )
        except (OSError, websocket.WebSocketException):
            if time.monotonic() > until:
                raise
            time.sleep(0.2)
