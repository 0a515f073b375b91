"""The invented farm that ships with bedlore, and how it is laid out in a folder."""

from bedlore.demo.write import demo_days, write_demo

__all__ = ["demo_days", "write_demo"]
