"""Draws bodies at work out of joints and curves: exercises, tests, faults. Knows no page and no student."""
