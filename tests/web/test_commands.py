"""``bedlore serve``, ``worker`` and ``import`` as a keeper starts them."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import httpx
import pytest
from django.urls import NoReverseMatch, reverse

from bedlore.demo import write_demo
from bedlore.web.rights import POLICY
from tests.web.postgres import free_port
from tests.web.started import environment, started


def bedlore(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "bedlore", *words, "--data", str(data)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, env=environment())


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("data")
    write_demo(folder / "demo")
    done = bedlore(folder / "data", "import", str(folder / "demo"))
    assert done.returncode == 0, done.stderr
    assert "Ousel Mill Kitchen Garden is in" in done.stdout
    return folder / "data"


@pytest.fixture(scope="module")
def server(data: Path) -> Iterator[str]:
    with started(data, "--no-worker", "--port", str(free_port())) as running:
        yield running.address


def test_a_folder_goes_in_whole(data: Path) -> None:
    with sqlite3.connect(data / "bedlore.sqlite3") as base:
        entries = base.execute("SELECT count(*) FROM store_logentry").fetchone()[0]
        assert entries > 600
        assert base.execute("SELECT count(*) FROM store_bed").fetchone()[0] == 3
        assert base.execute("SELECT as_of FROM store_farm").fetchone()[0]
        kinds = {row[0] for row in base.execute("SELECT kind FROM store_weather")}
        assert kinds == {"record", "typed"}
    base.close()


def test_an_unknown_keeper_is_a_sentence(data: Path, tmp_path: Path) -> None:
    write_demo(tmp_path / "demo")
    done = bedlore(data, "import", str(tmp_path / "demo"), "--keeper", "nobody")
    assert done.returncode == 1
    assert "no account 'nobody'" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_server_serves_pages_and_files_with_strict_headers(server: str) -> None:
    page = httpx.get(f"{server}/", follow_redirects=True)
    assert page.url.path == "/first/"
    assert "unsafe" not in page.headers["Content-Security-Policy"]
    sheet = page.text.split('rel="stylesheet" href="')[1].split('"')[0]
    style = httpx.get(f"{server}{sheet}", headers={"Accept-Encoding": "gzip"})
    assert style.status_code == 200
    assert "immutable" in style.headers["Cache-Control"]
    assert style.headers["Content-Encoding"] == "gzip"


def test_every_open_address_answers_as_it_is_served(server: str) -> None:
    """With the files' own names of a served bedlore, which the tests' settings leave out."""
    for name, needs in POLICY.items():
        if needs.get("GET") == "open" and ":" not in name:
            with suppress(NoReverseMatch):
                answer = httpx.get(server + reverse(name), follow_redirects=True)
                assert answer.status_code < 500, name


def test_other_names_are_refused(server: str) -> None:
    answer = httpx.get(f"{server}/first/", headers={"Host": "elsewhere.example"})
    assert answer.status_code == 400
    assert "Traceback" not in answer.text


def test_a_database_that_cannot_be_reached_is_a_sentence(tmp_path: Path) -> None:
    env = {**environment(), "BEDLORE_DATABASE_URL": "postgresql://x@127.0.0.1:1/none"}
    command = [sys.executable, "-m", "bedlore", "worker", "--once", "--data", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, env=env)
    assert done.returncode == 1
    assert "database cannot be used" in done.stderr
    assert "Traceback" not in done.stderr
