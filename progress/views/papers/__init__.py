"""Papers and spreadsheets to take away."""
