"""Use cases, one a file, and the ports they need."""
