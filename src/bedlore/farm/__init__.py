"""The farm description and the log entries, as frozen records."""
