"""Writes papers, and the teacher's words in them."""
