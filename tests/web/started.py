"""A really started ``bedlore serve``, spoken to as other machines of a home network would."""

from __future__ import annotations

import os
import signal
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

STARTS_IN_S = 60
STOPS_IN_S = 20


def environment(**more: str) -> dict[str, str]:
    """The environment without what is meant for the tests' own server."""
    ours = ("BEDLORE_", "DJANGO_")
    kept = {key: value for key, value in os.environ.items() if not key.startswith(ours)}
    return {**kept, "PYTHONUNBUFFERED": "1", **more}


@dataclass
class Started:
    """A server that runs; ``said`` is what stood in its terminal so far."""

    process: subprocess.Popen[bytes]
    output: Path
    data: Path

    @property
    def said(self) -> str:
        """What it wrote so far."""
        return self.output.read_text("utf-8", "replace")

    @property
    def address(self) -> str:
        """The address it shows first, without a slash at its end."""
        return self.said.split("bedlore is at ")[1].split()[0].rstrip("/")

    @property
    def port(self) -> int:
        """The port it listens on."""
        return int(self.address.rsplit(":", 1)[1])

    def stop(self, how: int = signal.SIGINT) -> int:
        """Ends it as Ctrl-C in a terminal does (the whole group); returns its exit status."""
        if self.process.poll() is None:
            os.killpg(self.process.pid, how)
        return self.process.wait(STOPS_IN_S)


@contextmanager
def started(data: Path, *words: str, **env: str) -> Iterator[Started]:
    """``bedlore serve WORDS`` over the folder ``data`` until the end of the block."""
    output = data.parent / f"said-by-{data.name}.txt"
    command = [sys.executable, "-m", "bedlore", "serve", "--data", str(data), *words]
    with output.open("wb") as file:
        process = subprocess.Popen(command, env=environment(**env), stdout=file,
                                   stderr=subprocess.STDOUT, start_new_session=True)  # fmt: skip
    server = Started(process, output, data)
    try:
        _wait(server)
        yield server
    finally:
        try:
            server.stop()
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()


def _wait(server: Started) -> None:
    until = time.monotonic() + STARTS_IN_S
    while True:
        assert server.process.poll() is None, server.said
        assert time.monotonic() < until, f"the server did not start: {server.said}"
        time.sleep(0.1)
        if "bedlore is at " not in server.said or "stop with" not in server.said:
            continue
        scheme = server.address.split(":")[0]
        try:
            verify = ssl.create_default_context(cafile=str(server.data / "tls" / "root.crt")) if (
                scheme == "https") else True
            answer = httpx.get(f"{scheme}://127.0.0.1:{server.port}/up/", verify=verify)
            assert answer.json()["up"] is True
            return
        except (httpx.HTTPError, OSError):
            continue


def browser(server: Started, name: str, asks_for: str = "") -> httpx.Client:
    """A browser that reaches the server by ``name``, as if the network knew it, and trusts its
    root alone; ``asks_for`` is the host it names when that is another."""
    scheme = server.address.split(":")[0]
    verify: ssl.SSLContext | bool = True
    if scheme == "https":
        verify = ssl.create_default_context(cafile=str(server.data / "tls" / "root.crt"))
    host = f"{asks_for or name}:{server.port}"

    def by_name(request: httpx.Request) -> None:
        request.headers["Host"] = host
        request.extensions["sni_hostname"] = name

    # Cookies belong to the address spoken to; the name stands in what the server sees.
    return httpx.Client(base_url=f"{scheme}://127.0.0.1:{server.port}", verify=verify,
                        event_hooks={"request": [by_name]},
                        headers={"Origin": f"{scheme}://{host}"}, timeout=30)  # fmt: skip
