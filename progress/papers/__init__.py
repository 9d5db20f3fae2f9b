"""Papers and spreadsheets, from facts to finished pages; pure."""
