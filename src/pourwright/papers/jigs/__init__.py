"""Jigs as files: a paper template, DXF and SVG for a laser or saw, STL and 3MF for a printer."""
