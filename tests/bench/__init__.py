"""Measures how good the judge is, on simulated terms; `python -m tests.bench.judge` prints it."""
