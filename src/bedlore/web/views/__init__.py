"""Pages, one file a subject. Rights were checked before any of them runs (``web.rights``)."""
