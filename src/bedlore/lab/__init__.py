"""Controlled experiments through the same model code as the beds."""
