"""The farm as the keeper describes it, and what the keeper writes down."""
