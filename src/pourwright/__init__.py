"""Pourwright: from a scent idea to a safe, legal, priced, traceable candle."""

__version__ = "0.1.0"
