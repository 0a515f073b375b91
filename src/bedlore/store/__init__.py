"""Adapters that keep farms and logs: files on disk."""
