"""Vessels: what they hold, how high a fill stands in them, and how they are drawn."""
