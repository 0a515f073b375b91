"""Farms kept in a database (SQLite or PostgreSQL) through Django's models.

Nothing outside this package and ``web`` imports Django.
"""
