"""The JSON API: the same use cases and field names as the command line."""
