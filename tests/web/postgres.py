"""A PostgreSQL server of Debian's, started for the tests in a folder of their own."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

USER = "postgres"
NEEDED = "CI" in os.environ or "BEDLORE_NEEDS_POSTGRES" in os.environ


def programs() -> Path | None:
    """The folder of PostgreSQL's programs, newest first."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    return found[-1].parent if found else None


def free_port() -> int:
    """A port that nobody uses now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def server() -> Iterator[str]:
    """The address of a database on a server that runs until the end of the block.

    PostgreSQL refuses to run as root; then it runs as Debian's user ``postgres``, who must be able
    to reach the folder.
    """
    with tempfile.TemporaryDirectory(prefix="bedlore-pg-") as name:
        folder = Path(name)
        folder.chmod(0o755)
        with _serving(folder) as address:
            yield address


@contextmanager
def _serving(folder: Path) -> Iterator[str]:
    bin_ = programs()
    assert bin_ is not None
    as_user = USER if os.geteuid() == 0 else None
    data, port = folder / "pg", free_port()
    data.mkdir(parents=True)
    if as_user:
        shutil.chown(data, USER)

    def run(*words: str) -> None:
        done = subprocess.run(words, user=as_user, group=as_user, cwd="/", text=True, timeout=120,
                              capture_output=True, extra_groups=[] if as_user else None,
                              env={"PATH": "/usr/bin:/bin", "LC_ALL": "C.UTF-8"})  # fmt: skip
        assert done.returncode == 0, done.stderr + done.stdout

    run(str(bin_ / "initdb"), "-D", str(data), "-U", "bedlore", "-A", "trust", "-E", "UTF8")
    options = f"-c listen_addresses=127.0.0.1 -c fsync=off -p {port} -k {data}"
    log = str(data / "log")
    run(str(bin_ / "pg_ctl"), "-D", str(data), "-w", "-l", log, "-o", options, "start")
    try:
        run(str(bin_ / "createdb"), "-h", "127.0.0.1", "-p", str(port), "-U", "bedlore", "beds")
        yield f"postgresql://bedlore@127.0.0.1:{port}/beds"
    finally:
        run(str(bin_ / "pg_ctl"), "-D", str(data), "-m", "immediate", "stop")
