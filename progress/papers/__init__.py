"""Papers and spreadsheets, from what was read to finished pages; they ask no database."""
