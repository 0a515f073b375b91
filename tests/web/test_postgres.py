"""The same store on a real PostgreSQL server."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from bedlore.service.archive import export_archive
from bedlore.service.book import ToWrite
from bedlore.store.db.archive import DbFarmParts
from bedlore.store.db.log_store import DbLog
from bedlore.store.db.models import FarmRow
from tests.unit.farm.test_log import GOOD, entry
from tests.web import postgres
from tests.web.conftest import INES, NOW

pytestmark = pytest.mark.postgres
ROOT = Path(__file__).parents[2]
SAME = ["tests/unit/store/contract", "tests/web/test_writing.py", "tests/web/test_archive.py",
        "tests/web/test_told.py", "tests/web/test_jobs.py", "tests/web/test_alerts.py"]  # fmt: skip
CROSS = """
import io, sys, django
django.setup()
from pathlib import Path
from django.core.management import call_command
call_command("migrate", verbosity=0)
from bedlore.service.archive import *
from bedlore.store.db.archive import DbFarmParts
from bedlore.store.db.models import FarmRow
from tests.web.conftest import NOW
photos = Path(sys.argv[1]).parent / "photos"
with open(sys.argv[1], "rb") as source:
    number = restore_archive(DbFarmParts(photos), source, NOW)
again = io.BytesIO()
export_archive(DbFarmParts(photos, FarmRow.objects.get(pk=number)).parts(), NOW, again)
Path(sys.argv[2]).write_bytes(again.getvalue())
"""


@pytest.fixture(scope="module")
def url() -> Iterator[str]:
    if postgres.programs() is None:
        sentence = "PostgreSQL is not installed here (Debian's package postgresql)."
        pytest.fail(sentence) if postgres.NEEDED else pytest.skip(sentence)
    with postgres.server() as address:
        yield address


def run(url: str, *words: str) -> None:
    env = {**os.environ, "BEDLORE_DATABASE_URL": url, "PYTHONPATH": str(ROOT),
           "DJANGO_SETTINGS_MODULE": "tests.web.settings"}  # fmt: skip
    env = {key: value for key, value in env.items() if not key.startswith("PYTEST_")}
    done = subprocess.run([sys.executable, *words], cwd=ROOT, env=env, capture_output=True,
                          text=True, timeout=300)  # fmt: skip
    assert done.returncode == 0, done.stdout[-5000:] + done.stderr[-3000:]


def test_the_store_does_the_same_on_postgres(url: str) -> None:
    run(url, "-m", "pytest", "-q", "-p", "no:cacheprovider", *SAME)


def test_an_archive_moves_to_the_other_database(
    url: str, farm_row: FarmRow, told: object, tmp_path: Path
) -> None:
    kinds = [kind for kind in GOOD if kind not in ("mat", "move")]
    DbLog(farm_row).write([ToWrite(entry(kind, f"e-{kind}")) for kind in kinds], INES, NOW)
    first, second = tmp_path / "first.zip", tmp_path / "second.zip"
    with first.open("wb") as target:
        export_archive(DbFarmParts(tmp_path, farm_row).parts(), NOW, target)
    run(url, "-c", CROSS, str(first), str(second))
    assert first.read_bytes() == second.read_bytes()
