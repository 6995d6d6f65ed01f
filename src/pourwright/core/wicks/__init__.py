"""Wicks: how many, and where they stand."""
