"""bedlore keeps composting-worm beds: a twin of each bed, honest odds, and today's advice."""

__version__ = "0.1.0"
