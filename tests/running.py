"""Running the real program in processes of its own, for tests of what only shows there."""

from __future__ import annotations

import http.cookiejar
import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path

PATIENCE_S = 90  # only a failure waits so long; a machine at work on much else may start slowly


def environment() -> dict[str, str]:
    """The environment without what the tests' own Django was told."""
    without = ("DJANGO_SETTINGS_MODULE", "POURWRIGHT_DATA", "DATABASE_URL", "DISPLAY")
    kept = {name: value for name, value in os.environ.items() if name not in without}
    return {**kept, "PYTHONIOENCODING": "utf-8"}


def command(*words) -> list[str]:
    return [sys.executable, "-m", "pourwright.cli.main", *map(str, words)]


def pourwright(*words, **more) -> subprocess.CompletedProcess:
    """Run one command to its end."""
    return subprocess.run(
        command(*words),
        env={**environment(), **more},
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


class Server:
    """``pourwright serve`` on a data folder, until the block ends."""

    def __init__(self, data: Path, *words, port: int | None = None) -> None:
        self.data = data
        self.port = port or free_port()
        self.words = words
        self.process: subprocess.Popen | None = None
        self.first_page_s = 0.0
        self.output = ""

    def __enter__(self) -> Server:
        self.start()
        return self

    def __exit__(self, *why) -> None:
        if self.process is not None:
            self.stop()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        began = time.monotonic()
        self.process = subprocess.Popen(
            command("serve", "--data", self.data, "--port", self.port, "--no-browser", *self.words),
            env=environment(),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            encoding="utf-8",
        )
        while True:
            try:
                with urllib.request.urlopen(f"{self.address}/", timeout=PATIENCE_S):
                    break
            except urllib.error.HTTPError as answer:
                answer.close()
                break
            except OSError:
                if self.process.poll() is not None or time.monotonic() - began > PATIENCE_S:
                    self.process.kill()  # one that is merely late would be waited for without end
                    raise AssertionError(f"it did not start: {self._end()}") from None
                time.sleep(0.02)
        self.first_page_s = time.monotonic() - began

    def kill(self) -> None:
        """End it as a power cut would: this process alone, at once."""
        self.process.kill()
        self._end()

    def stop(self, how: int = signal.SIGTERM) -> int:
        self.process.send_signal(how)
        return self._end()

    def _end(self) -> int:
        process, self.process = self.process, None
        self.output, _ = process.communicate(timeout=PATIENCE_S)
        return process.returncode


class Browser:
    """As much of a browser as sending forms takes."""

    def __init__(self, address: str) -> None:
        self.address = address
        self.cookies = http.cookiejar.CookieJar()
        self.opener = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(self.cookies), _NoRedirect
        )

    def get(self, path: str):
        return self.opener.open(f"{self.address}{path}", timeout=PATIENCE_S)

    def token(self, path: str) -> str:
        with self.get(path) as answer:
            page = answer.read().decode()
        return re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', page)[1]

    def post(self, path: str, fields: dict[str, str]) -> int:
        """Send a form and return the answer's status; 302 says that it was recorded."""
        data = urllib.parse.urlencode(fields).encode()
        request = urllib.request.Request(f"{self.address}{path}", data=data)
        try:
            with self.opener.open(request, timeout=PATIENCE_S) as answer:
                return answer.status
        except urllib.error.HTTPError as answer:
            answer.close()
            return answer.code


class _NoRedirect(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *arguments, **keywords):
        return None
