"""One file a question; the figures of record are in results.md."""
