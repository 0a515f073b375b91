"""What pages show of a stored morning and of nothing else: made once, ahead of the reader, kept.

``kept`` is where it is kept, ``today``, ``bed`` and ``carried`` are what the three pages show,
``learnt`` what the bed's page shows of what was learnt, and ``ahead`` makes all of it for those who
read the farm's pages.
"""
