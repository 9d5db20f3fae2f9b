"""Date formats of our own where the locale's usual ones cut the month short."""
