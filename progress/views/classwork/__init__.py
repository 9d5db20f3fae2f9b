"""Exercises and programmes."""
