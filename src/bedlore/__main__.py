"""``python -m bedlore`` is ``bedlore``."""

from bedlore.cli.main import main

main()
