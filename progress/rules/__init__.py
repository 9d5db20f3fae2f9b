"""Doses, ladders, load and what to suggest; pure."""
