"""``bedlore serve`` on the machine alone, in the home network over TLS, and plain."""

from __future__ import annotations

import re
import socket
import sqlite3
import subprocess
import time
from pathlib import Path

import httpx
import pytest

from bedlore.demo import write_demo
from bedlore.errors import KeeperError
from bedlore.web.home_network import MOST_PORTS_TRIED, free_port, is_own, reach
from tests.web import postgres
from tests.web.started import Started, browser, environment, started

NAME = "larder.example"  # no name of this machine: told to it, as a keeper would
NEW = {"username": "mara", "first_name": "Mara", "password1": "seven larch planks",
       "password2": "seven larch planks"}  # fmt: skip


def first_account(server: Started, name: str) -> httpx.Response:
    """Makes the first account by the address in the terminal."""
    link = re.search(r"https?://[^/\s]+(/first/\S*)", server.said)
    assert link is not None, server.said
    with browser(server, name) as client:
        page = client.get(link[1])
        assert page.status_code == 200, page.text
        secret = re.search(r'name="csrfmiddlewaretoken" value="(\w+)"', page.text)
        assert secret is not None
        sent = client.post(link[1], data={**NEW, "csrfmiddlewaretoken": secret[1]},
                           headers={"Referer": f"{client.headers['Origin']}{link[1]}"})  # fmt: skip
        if sent.status_code == 302:
            sent.extensions["home"] = client.get("/", follow_redirects=True).text
        return sent


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("home") / "mill"
    write_demo(folder)
    return folder


def test_the_home_network_over_tls(mill: Path, tmp_path: Path) -> None:
    words = ("--lan", "--no-worker", "--farm", str(mill), "--port", str(postgres.free_port()))
    with started(tmp_path / "data", *words, BEDLORE_HOSTS=NAME) as server:
        said = server.said
        assert "Ousel Mill Kitchen Garden is in" in said
        assert server.address.startswith("https://")
        assert "█" in said  # the QR code
        assert "/trust/" in said
        with browser(server, NAME) as client:
            # Nobody has an account: without the terminal's key the network gets no further.
            guess = client.get("/first/?key=guess:guess")
            assert guess.status_code == 403
            page = client.get("/trust/").text
            pairs = re.findall(r"<code>([0-9A-F ]+)</code>", page)
            flat = re.sub(r"[^0-9A-F]", "", "".join(pairs))
            assert len(flat) == 64
            assert flat[:32] in re.sub(r"[:\s]", "", said)
            root = client.get("/trust/root.crt")
            assert root.headers["Content-Type"] == "application/x-x509-ca-cert"
            assert root.content == (tmp_path / "data" / "tls" / "root.crt").read_bytes()
        made = first_account(server, NAME)
        assert made.status_code == 302, made.text
        cookies = made.headers.get_list("set-cookie")
        assert cookies
        assert all("; Secure" in cookie for cookie in cookies)
        assert "Ousel Mill Kitchen Garden" in made.extensions["home"]  # its keeper at once
        with browser(server, NAME, asks_for="elsewhere.example") as client:
            assert client.get("/sign-in/").status_code == 400
        assert server.stop() == 0
        assert "Traceback" not in server.said


def test_the_home_network_without_tls(tmp_path: Path) -> None:
    words = ("--lan", "--plain", "--no-worker", "--port", str(postgres.free_port()))
    with started(tmp_path / "data", *words, BEDLORE_HOSTS=NAME) as server:
        assert server.address.startswith("http://")
        assert "can read what passes" in server.said
        assert not (tmp_path / "data" / "tls").exists()
        made = first_account(server, NAME)
        assert made.status_code == 302, made.text
        assert all("; Secure" not in cookie for cookie in made.headers.get_list("set-cookie"))
        assert "no farm yet" in made.extensions["home"]
        with browser(server, NAME) as client:
            assert client.get("/trust/").status_code == 404


def test_this_machine_alone_with_its_worker_and_a_taken_port(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        with started(tmp_path / "data", "--port", str(taken)) as server:
            assert f"Port {taken} is taken" in server.said
            assert server.port != taken
            assert "this machine alone" in server.said
            for address in reach().addresses:
                with socket.socket() as probe:
                    assert probe.connect_ex((address, server.port)) != 0, "open to the network"
            assert first_account(server, "localhost").status_code == 302
            worker = _worker_of(server)
            assert server.stop() == 0  # Ctrl-C
            assert "Traceback" not in server.said
            assert not Path(f"/proc/{worker}").exists()
    with sqlite3.connect(tmp_path / "data" / "bedlore.sqlite3") as base:
        assert base.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    base.close()


def _worker_of(server: Started) -> int:
    """The process that works through the jobs beside the server."""
    if not Path("/proc").is_dir():
        pytest.skip("This system has no /proc to look for the worker in.")
    until = time.monotonic() + 20
    while time.monotonic() < until:
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                words = (folder / "cmdline").read_bytes().split(b"\0")
            except OSError:
                continue
            if b"worker" in words and str(server.data).encode() in words:
                return int(folder.name)
        time.sleep(0.1)
    raise AssertionError("there is no worker")


def test_only_the_machines_own_addresses_are_its_own() -> None:
    assert all(is_own(host) for host in ("127.0.0.1", "::1", "localhost"))
    assert not any(is_own(host) for host in ("0.0.0.0", "::", "192.168.1.9", "larder.local"))


def test_ports_next_to_a_taken_one() -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        taken = other.getsockname()[1]
        assert taken < free_port("127.0.0.1", taken) < taken + MOST_PORTS_TRIED
    with pytest.raises(KeeperError, match="can listen"):
        free_port("192.0.2.199", 8021)  # RFC 5737: nobody's address
    with pytest.raises(KeeperError, match="can listen"):
        free_port("no such host", 8021)


@pytest.mark.parametrize(
    "words", [["--plain"], ["--lan", "--host", "192.0.2.1"], ["--cert", "/dev/null"],
              ["--lan", "--plain", "--cert", "/dev/null", "--key", "/dev/null"]],
)  # fmt: skip
def test_options_that_do_not_go_together_are_a_sentence(words: list[str], tmp_path: Path) -> None:
    from click.testing import CliRunner

    from bedlore.cli.main import cli

    done = CliRunner().invoke(cli, ["serve", "--data", str(tmp_path), *words])
    assert done.exit_code == 1
    assert "Give" in done.output + str(done.exception or "")


def test_make_run_stops_after_the_advice_where_nobody_could_stop_it(tmp_path: Path) -> None:
    """``SERVE=0``, and machines that check things (they set CI), never get a server."""
    tool = tmp_path / "bin" / "bedlore"
    tool.parent.mkdir()
    tool.write_text(f'#!/bin/sh\necho "$@" >> {tmp_path}/asked\n')
    tool.chmod(0o755)
    (tmp_path / ".run-stamp").touch()
    root = Path(__file__).parents[2]

    def asked(*words: str, **env: str) -> list[str]:
        (tmp_path / "asked").unlink(missing_ok=True)
        command = ["make", "-o", f"{tmp_path}/.run-stamp", "run", f"VENV={tmp_path}",
                   f"DEMO_DIR={tmp_path}/mill", f"DATA_DIR={tmp_path}/data", *words]  # fmt: skip
        clean = {k: v for k, v in environment().items() if k not in ("CI", "MAKEFLAGS")}
        done = subprocess.run(command, cwd=root, env={**clean, **env}, capture_output=True,
                              text=True, timeout=60)  # fmt: skip
        assert done.returncode == 0, done.stderr
        lines = (tmp_path / "asked").read_text().splitlines()
        assert [line.split()[0] for line in lines[:3]] == ["demo", "today", "report"]
        return lines[3:]

    served = f"serve --data {tmp_path}/data --farm {tmp_path}/mill --port 8021"
    assert asked("SERVE=0") == []
    assert asked(CI="true") == []
    assert asked() == [served]
    assert asked("SERVE=1", CI="true") == [served]
    assert asked("LAN=1") == [f"{served} --lan"]
    assert asked("LAN=1", "TLS=0") == [f"{served} --lan --plain"]
