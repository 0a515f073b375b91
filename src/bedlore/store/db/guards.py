"""What the database itself refuses: changing what stands in a log entry."""

from __future__ import annotations

from django.db import connections

# ``holds`` and ``author_id`` may change: whether an entry still holds follows from later ones,
# and an account may be closed. What was written stays.
_WRITTEN = ("farm_id", "entry_id", "client_id", "sent_hash", "kind", "bed", "zone", "at",
            "written_at", "written_by", "amends", "body")  # fmt: skip
_SENTENCE = "A log entry is never changed; write a correction."

_SQLITE = f"""
CREATE TRIGGER IF NOT EXISTS store_logentry_append_only
BEFORE UPDATE OF {", ".join(_WRITTEN)} ON store_logentry
BEGIN SELECT RAISE(ABORT, '{_SENTENCE}'); END
"""
_POSTGRES = f"""
CREATE OR REPLACE FUNCTION store_refuse_change() RETURNS trigger AS $$
BEGIN RAISE EXCEPTION '{_SENTENCE}'; END $$ LANGUAGE plpgsql;
DROP TRIGGER IF EXISTS store_logentry_append_only ON store_logentry;
CREATE TRIGGER store_logentry_append_only
BEFORE UPDATE OF {", ".join(_WRITTEN)} ON store_logentry
FOR EACH ROW EXECUTE FUNCTION store_refuse_change();
"""


def make_log_append_only(using: str) -> None:
    """Lets the database refuse any change to what was written into the log."""
    connection = connections[using]
    if "store_logentry" not in connection.introspection.table_names():
        return
    with connection.cursor() as cursor:
        cursor.execute(_SQLITE if connection.vendor == "sqlite" else _POSTGRES)
