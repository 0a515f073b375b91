"""Server time of every page over a log of 200,000 entries, on SQLite and on PostgreSQL.

Each page is asked for through the whole of Django (sessions, rights, headers, templates) by its
keeper, warm, in one process, each call for the next bed, kind or part; the 95th percentile of its
calls is filed beside the 150 ms that it may take. The clock's time counts what else the machine
does, the processor's leaves out waiting for the database. Run: ``python -m
benchmarks.bench_pages``.
"""

from __future__ import annotations

import gzip
import json
import os
import re
import subprocess
import sys
import tempfile
import time

import numpy as np

from benchmarks.filing import file_section, table
from tests.web import postgres

CALLS = 40
MEASURE = "--measure"


def measure() -> None:
    """Makes the farm in the database that is set and prints a line of JSON for each page."""
    import django

    django.setup()
    from django.core.management import call_command
    from django.test import Client
    from django.urls import get_resolver

    call_command("migrate", verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)
    from bedlore.service.doors import open_calendar
    from bedlore.web.rights import POLICY
    from bedlore.web.wiring import DOORS
    from benchmarks.big_farm import make

    row, keeper = make()
    client = Client()
    client.force_login(keeper)
    secret = open_calendar(DOORS, row.pk, keeper.pk, row.as_of)[1].text
    entry = row.entries.order_by("-at").first().entry_id
    beds = list(row.beds.values_list("slug", flat=True))
    for pattern in get_resolver().url_patterns:
        name, path = getattr(pattern, "name", None), str(pattern.pattern)
        if name is None or "GET" not in POLICY.get(name, {}) or name in NOT_PAGES:
            continue
        walls, works, size = [], [], 0
        for call in range(CALLS + 2):
            words = {"farm": row.slug, "bed": beds[call % len(beds)], "entry_id": entry,
                     "secret": secret,
                     "kind": KINDS[call % len(KINDS)], "part": PARTS[call % len(PARTS)]}
            address = "/" + filled(path, words)
            wall, work = time.perf_counter(), time.process_time()
            answer = client.get(address)
            body = answer.getvalue()
            walls.append(1000.0 * (time.perf_counter() - wall))
            works.append(1000.0 * (time.process_time() - work))
            size = max(size, len(gzip.compress(body, 6)))
        p95 = [float(np.quantile(times[2:], 0.95)) for times in (walls, works)]
        print(json.dumps([name, answer.status_code, *p95, size / 1000.0]), flush=True)


def filled(path: str, words: dict[str, str]) -> str:
    """A pattern of the list of addresses with ``words`` for its variables."""
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda found: words.get(found[1], ""), path)


KINDS = ("feed", "look", "probe", "harvest", "squeeze")
PARTS = ("store", "containers", "limits", "site")
# Not pages: downloads of the whole log, drawings kept by the browser, doors.
NOT_PAGES = {"archive", "log-file", "farm-file", "sign-out"}


def figures(env: dict[str, str]) -> dict[str, list[float]]:
    """Status, 95th percentile by the clock and of processor time [ms] and compressed size [kB] by
    page, in a database of its own."""
    words = [sys.executable, "-m", "benchmarks.bench_pages", MEASURE]
    done = subprocess.run(words, text=True, env={**os.environ, **env}, stdout=subprocess.PIPE,
                          check=True)  # fmt: skip
    lines = [json.loads(line) for line in done.stdout.splitlines() if line.startswith("[")]
    return {name: values for name, *values in lines}


def main() -> None:
    """Both databases, filed."""
    with tempfile.TemporaryDirectory() as folder:
        env = {"BEDLORE_DATA": f"{folder}/data", "BEDLORE_HOSTS": "testserver",
               "DJANGO_SETTINGS_MODULE": "bedlore.web.settings"}  # fmt: skip
        on_file = figures(env)
        with postgres.server() as address:
            on_server = figures({**env, "BEDLORE_DATA": f"{folder}/other",
                                 "BEDLORE_DATABASE_URL": address})  # fmt: skip
    both = [on_file, on_server]
    pages = {name for name, values in on_file.items() if values[0] == 200}
    rows = [
        [name, *(f"{one[name][1]:.0f}" for one in both), *(f"{one[name][2]:.0f}" for one in both),
         f"{on_file[name][3]:.0f}"]
        for name in sorted(pages, key=lambda name: -on_file[name][1])
    ]  # fmt: skip
    heads = ("page", "SQLite, p95 ms", "PostgreSQL, p95 ms", "SQLite, processor ms",
             "PostgreSQL, processor ms", "kB compressed")  # fmt: skip
    left = sorted(on_file.keys() - pages)
    body = (f"200,000 entries, 50 beds, 10 years; {CALLS} calls each. At most 150 ms is wanted.\n\n"
            f"{table(heads, rows)}\n\nNot pages to measure here (they lead elsewhere, or there is"
            f" nothing to show): {', '.join(left)}; downloads of the whole log:"
            f" {', '.join(sorted(NOT_PAGES - {'sign-out'}))}.\n")  # fmt: skip
    file_section("Pages over a long log", body)
    print(body)


if __name__ == "__main__":
    if MEASURE in sys.argv:
        measure()
    else:
        main()
