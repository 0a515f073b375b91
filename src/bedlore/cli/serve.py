"""``bedlore serve``, ``worker``, ``nightly`` and ``book``: the pages, their jobs, farms in and out.

Django is imported by the command that runs, never with this module.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from pathlib import Path

import click

from bedlore.cli.options import Decorator
from bedlore.errors import KeeperError

PORT = 8021
_ROUND_S = 60.0
data_option: Decorator = click.option(
    "--data", "data", default="", metavar="DIR",
    help="The data folder; BEDLORE_DATA or ~/.local/share/bedlore if left out.",
)  # fmt: skip


def set_up(data: str) -> None:
    """Sets Django up over the data folder, and brings the tables up to date."""
    if data:
        os.environ["BEDLORE_DATA"] = str(Path(data).expanduser().resolve())
    os.environ["DJANGO_SETTINGS_MODULE"] = "bedlore.web.settings"
    import django
    from django.core.management import call_command

    django.setup()
    try:
        call_command("migrate", verbosity=0, interactive=False)
    except django.db.utils.OperationalError as problem:
        raise KeeperError(
            f"The database cannot be used ({str(problem).strip()[:200]}).",
            fix="Check BEDLORE_DATABASE_URL and the data folder.",
        ) from None


@click.command()
@data_option
@click.option("--host", default="127.0.0.1", show_default=True, metavar="ADDRESS",
              help="Listen on this address; the default is open to this machine alone.")
@click.option("--port", default=PORT, show_default=True, type=click.IntRange(1, 65535),
              metavar="N", help="Listen on this port.")
@click.option("--cert", type=click.Path(exists=True, path_type=Path), metavar="FILE",
              help="Certificate for TLS (PEM).")
@click.option("--key", type=click.Path(exists=True, path_type=Path), metavar="FILE",
              help="Key of the certificate (PEM).")
@click.option("--no-worker", is_flag=True, help="Run no job worker beside the server.")
def serve(data: str, host: str, port: int, cert: Path | None, key: Path | None,
          no_worker: bool) -> None:  # fmt: skip
    """Serve the pages, with a worker for outlooks beside them, until stopped with Ctrl-C."""
    if (cert is None) != (key is None):
        raise KeeperError("Certificate and key go together.", "--cert", "Give both or neither.")
    if cert is not None:
        os.environ["BEDLORE_TLS"] = "1"
    set_up(data)
    from django.conf import settings
    from django.core.management import call_command

    call_command("collectstatic", verbosity=0, interactive=False)
    worker = None if no_worker else _start_worker(str(settings.DATA_FOLDER))
    scheme = "https" if cert else "http"
    shown = "127.0.0.1" if host in ("0.0.0.0", "::") else host
    click.echo(f"bedlore is at {scheme}://{shown}:{port}/  (stop with Ctrl-C)")
    try:
        _listen(host, port, cert, key)
    finally:
        if worker is not None:
            worker.terminate()
            worker.wait(20)


def _listen(host: str, port: int, cert: Path | None, key: Path | None) -> None:
    from granian import Granian
    from granian.constants import Interfaces
    from granian.log import LogLevels

    Granian(
        "bedlore.web.wsgi:application", address=host, port=port, interface=Interfaces.WSGI,
        workers=1, blocking_threads=8, websockets=False, log_level=LogLevels.warning,
        ssl_cert=cert, ssl_key=key, respawn_failed_workers=True,
    ).serve()  # fmt: skip


def _start_worker(data: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-m", "bedlore", "worker", "--data", data])


@click.command()
@data_option
@click.option("--once", is_flag=True, help="Do what waits, then stop.")
def worker(data: str, once: bool) -> None:
    """Work through the jobs that wait: outlooks, advice and weather, each night and when a log
    has changed."""
    set_up(data)
    from bedlore.web.tasks import look_round
    from bedlore.web.working import run_worker

    look_round()
    stop = threading.Event()
    rounds = threading.Thread(target=_rounds, args=(stop,), daemon=True)
    if not once:
        rounds.start()
        signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    try:
        run_worker(once=once)
    finally:
        stop.set()


def _rounds(stop: threading.Event) -> None:
    """Looks round for what is due, every minute."""
    from django.db import close_old_connections

    from bedlore.web.tasks import look_round

    while not stop.wait(_ROUND_S):
        close_old_connections()
        look_round()


@click.command()
@data_option
def nightly(data: str) -> None:
    """Ask for tonight's outlook of every farm now, work it out, and say how it went."""
    set_up(data)
    from bedlore.store.db.models import FarmRow, JobRun
    from bedlore.web.tasks import NIGHT, ask
    from bedlore.web.wiring import clock
    from bedlore.web.working import run_worker

    asked = [ask(row, NIGHT, f"asked-{clock():%Y-%m-%dT%H:%M:%S}") for row in FarmRow.objects.all()]
    if not asked:
        click.echo("There is no farm yet.")
    run_worker(once=True)
    failed = False
    for job in JobRun.objects.filter(pk__in=[job.pk for job in asked]).select_related("farm"):
        click.echo(f"{job.farm.name}: {job.state}. {job.sentence}".strip())
        failed = failed or job.state != "done"
    if failed:
        raise click.exceptions.Exit(1)


@click.command("import")
@data_option
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--keeper", default="", metavar="NAME",
              help="Sign-in name of the account that becomes its keeper.")
def import_folder(data: str, folder: Path, keeper: str) -> None:
    """Take the farm in the folder DIR, with its log and weather, into the pages' database."""
    set_up(data)
    from bedlore.web.moving import take_in

    told = take_in(folder, keeper)
    click.echo(f"{told.name} is in, with {told.entries} entries.")
    for sentence in told.remarks:
        click.echo(f"  {sentence}")


def register(group: click.Group) -> None:
    """Adds these commands to ``group``."""
    for command in (serve, worker, nightly, import_folder):
        group.add_command(command)
