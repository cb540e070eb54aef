"""The screen as a user meets it: the real server on a folder of copied examples, and the system's Chromium."""

from __future__ import annotations

import http.client
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

SOURCE = Path(__file__).parents[2] / "src"
LAPTOP, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 844}
SLOW = float(os.environ.get("TIDEOVER_PATIENCE", 60))
"""For what a machine at work with other things must manage. [s]"""
FLAGS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip


def chromium() -> str:
    """The system's browser; empty where there is none."""
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), "")


def until(what: Callable[[], object], within: float = SLOW) -> object:
    """What a condition gives when it holds at last."""
    end = time.monotonic() + within
    while not (found := what()):
        assert time.monotonic() < end, f"not within {within:g} s"
        time.sleep(0.02)
    return found


@dataclass
class Server:
    """`tideover open` as a process."""

    process: subprocess.Popen
    folder: Path
    port: int
    began: float

    @classmethod
    def start(cls, folder: Path) -> Server:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        command = [sys.executable, "-m", "tideover", "open", str(folder), "--no-browser", "--port", str(port)]
        paths = os.pathsep.join(filter(None, (str(SOURCE), os.environ.get("PYTHONPATH", ""))))
        environment = {**os.environ, "PYTHONPATH": paths, "TIDEOVER_NATIVE": "1"}
        with (folder / ".said").open("wb") as said:
            process = subprocess.Popen(command, stdout=said, stderr=subprocess.STDOUT, env=environment)
        return cls(process, folder, port, time.perf_counter())

    @property
    def said(self) -> str:
        """What it wrote to its terminal."""
        return (self.folder / ".said").read_text(errors="replace")

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def alive(self) -> bool:
        return self.process.poll() is None

    def ready(self) -> Server:
        """Wait until it answers."""

        def answers() -> bool:
            assert self.alive, self.said
            try:
                return self.ask("GET", "/static/icon.svg")[0] == 200
            except OSError:
                return False

        until(answers)
        return self

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> tuple[int, str]:
        """One request as a program sends it; the path goes out as it stands."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=SLOW)
        try:
            line.putrequest(method, path, skip_host="Host" in headers, skip_accept_encoding=True)
            sent = {k.replace("_", "-"): v for k, v in headers.items()}
            if body is not None:
                sent.setdefault("Content-Length", str(len(body)))
            for name, value in sent.items():
                line.putheader(name, value)
            line.endheaders(body)
            answer = line.getresponse()
            return answer.status, answer.read().decode("utf-8", "replace")
        finally:
            line.close()

    @property
    def token(self) -> str:
        """What the server's own pages bring with every change."""
        found = re.search(r'data-token="([^"]+)"', self.ask("GET", "/")[1])
        assert found
        return found[1]

    def post(self, path: str, fields: dict[str, str], **headers: str) -> tuple[int, str]:
        """A form of one of its pages."""
        body = urlencode({"token": self.token, **fields}).encode()
        return self.ask("POST", path, body, Content_Type="application/x-www-form-urlencoded", **headers)

    def end(self) -> None:
        """Ends it like Ctrl-C, or else for good."""
        self.process.terminate()
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
