"""Makes the invented farm's past: weather, a true course of its beds, and a keeper's logbook.

Nothing in here ships or is imported by the product: learning must never see the truth.
"""
