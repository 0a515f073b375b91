"""``bedlore serve``, ``worker``, ``nightly`` and ``book``: the pages, their jobs, farms in and out.

Django is imported by the command that runs, never with this module.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bedlore.cli.beside import WorkerBeside, left_alone
from bedlore.cli.greeting import Greeting, greeting_text
from bedlore.cli.options import Decorator
from bedlore.errors import KeeperError

if TYPE_CHECKING:
    from bedlore.store.certificates import Papers

PORT = 8021
_ROUND_S = 60.0
_ENDS_WITHIN_S = 2  # an answer under way may be finished; what hangs is ended
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
              metavar="N", help="Listen on this port, or the next free one.")
@click.option("--lan", is_flag=True,
              help="Open the pages to the home network, over TLS with a certificate made here.")
@click.option("--plain", is_flag=True, help="With --lan: without TLS.")
@click.option("--cert", type=click.Path(exists=True, path_type=Path), metavar="FILE",
              help="A certificate of your own for TLS (PEM).")
@click.option("--key", type=click.Path(exists=True, path_type=Path), metavar="FILE",
              help="Key of the certificate (PEM).")
@click.option("--farm", "folder", type=click.Path(path_type=Path), metavar="DIR",
              help="Take the farm in this folder in first, while there is none.")
@click.option("--no-worker", is_flag=True, help="Run no job worker beside the server.")
def serve(data: str, host: str, port: int, lan: bool, plain: bool, cert: Path | None,
          key: Path | None, folder: Path | None, no_worker: bool) -> None:  # fmt: skip
    """Serve the pages, with a worker for outlooks beside them, until stopped with Ctrl-C."""
    _check_together(host, lan, plain, cert, key)
    from bedlore.web.home_network import free_port, is_own, reach

    host = "0.0.0.0" if lan else host
    free = free_port(host, port)
    if free != port:
        click.echo(f"Port {port} is taken, perhaps by another bedlore; using {free}.")
    found = reach() if lan else None
    tls = cert is not None or (lan and not plain)
    shown = found.all_or_here if found else (_shown(host),)
    addresses = tuple(f"{'https' if tls else 'http'}://{name}:{free}/" for name in shown)
    _tell_settings(addresses, shown, tls)
    set_up(data)
    papers = _papers(shown) if lan and tls and cert is None else None
    if papers is not None:
        cert, key = papers.cert, papers.key
    from django.conf import settings

    folder_of_data = str(settings.DATA_FOLDER)
    _make_ready(folder_of_data, folder)
    click.echo(greeting_text(_greeting(addresses, papers, is_open=not is_own(host), tls=tls)))
    with nullcontext() if no_worker else WorkerBeside(folder_of_data):
        _listen(host, free, cert, key)


def _check_together(host: str, lan: bool, plain: bool, cert: Path | None,
                    key: Path | None) -> None:  # fmt: skip
    if (cert is None) != (key is None):
        raise KeeperError("Certificate and key go together.", "--cert", "Give both or neither.")
    if plain and (not lan or cert is not None):
        raise KeeperError("Only the home network can be served without TLS.", "--plain",
                          "Give it with --lan, and without --cert.")  # fmt: skip
    if lan and host not in ("127.0.0.1", "0.0.0.0"):
        raise KeeperError("--lan listens on every address of this machine.", "--host",
                          "Give one or the other.")  # fmt: skip


def _shown(host: str) -> str:
    """``host`` as it stands in an address."""
    if host in ("0.0.0.0", "::"):
        return "127.0.0.1"
    return f"[{host}]" if ":" in host else host


def _tell_settings(addresses: tuple[str, ...], names: tuple[str, ...], tls: bool) -> None:
    """Tells the settings, and with them server and worker, how the pages are reached."""
    if tls:
        os.environ["BEDLORE_TLS"] = "1"
    known = [name for name in os.environ.get("BEDLORE_HOSTS", "").split(",") if name.strip()]
    os.environ["BEDLORE_HOSTS"] = ",".join((*known, *names))
    os.environ.setdefault("BEDLORE_ADDRESS", addresses[0])


def _papers(names: tuple[str, ...]) -> Papers:
    """Certificate and key for the names the server answers to."""
    import datetime as dt

    from django.conf import settings

    from bedlore.store.certificates import papers_for

    known = [name for name in settings.ALLOWED_HOSTS if name not in names and "*" not in name]
    return papers_for(settings.DATA_FOLDER, (*names, *known), dt.datetime.now(dt.UTC))


def _make_ready(data: str, folder: Path | None) -> None:
    """Collects the pages' files, and takes ``folder`` in where there is no farm yet."""
    from django.core.management import call_command

    from bedlore.store.db.models import FarmRow

    call_command("collectstatic", verbosity=0, interactive=False)
    if folder is not None and not FarmRow.objects.exists():
        # In a process of its own: the model that reads a farm stays out of the server's memory.
        words = ["import", str(folder), "--data", data]
        done = subprocess.run([sys.executable, "-m", "bedlore", *words], check=False)
        if done.returncode:
            raise click.exceptions.Exit(done.returncode)


def _greeting(addresses: tuple[str, ...], papers: Papers | None, *, is_open: bool,
              tls: bool) -> Greeting:  # fmt: skip
    from bedlore.store.db.models import FarmRow
    from bedlore.web.first_door import PATH, new_key, nobody_yet

    first, keeps = "", ()
    if nobody_yet():
        key = f"?key={new_key()}" if is_open else ""
        first = f"{addresses[0].rstrip('/')}{PATH}{key}"
        keeps = tuple(FarmRow.objects.filter(memberships=None).values_list("name", flat=True))
    return Greeting(
        addresses, first, keeps, is_open=is_open, tls=tls,
        fingerprint=papers.fingerprint if papers else "",
        is_other_root=papers is not None and papers.is_other_root,
    )  # fmt: skip


def _listen(host: str, port: int, cert: Path | None, key: Path | None) -> None:
    from granian import Granian
    from granian.constants import Interfaces
    from granian.log import LogLevels

    threads = min(8, 2 * (os.cpu_count() or 1) + 1)
    Granian(
        "bedlore.web.wsgi:application", address=host, port=port, interface=Interfaces.WSGI,
        workers=1, blocking_threads=threads, websockets=False, log_level=LogLevels.error,
        ssl_cert=cert, ssl_key=key, respawn_failed_workers=True,
        workers_kill_timeout=_ENDS_WITHIN_S,
    ).serve()  # fmt: skip


@click.command()
@data_option
@click.option("--once", is_flag=True, help="Do what waits, then stop.")
def worker(data: str, once: bool) -> None:
    """Work through the jobs that wait: outlooks, advice and weather, each night and when a log
    has changed."""
    set_up(data)
    from bedlore.web.tasks import look_round, put_back
    from bedlore.web.working import is_gone, run_worker

    put_back(is_gone)
    look_round()
    stop = threading.Event()
    rounds = threading.Thread(target=_rounds, args=(stop,), daemon=True)
    if not once:
        rounds.start()
    try:
        run_worker(once=once)
    finally:
        stop.set()


def _rounds(stop: threading.Event) -> None:
    """Looks round for what is due, every minute; ends the process when its server is gone."""
    from django.db import close_old_connections

    from bedlore.web.tasks import look_round

    while not stop.wait(_ROUND_S):
        if left_alone():
            os.kill(os.getpid(), signal.SIGTERM)
            return
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
