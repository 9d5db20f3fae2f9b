"""Writes what is planned and done between screenings."""
