"""Draws charts: one description (parts.py), laid out once, drawn as SVG (svg.py) and as a figure (figure.py)."""
