"""British dates with the month in full, as the pages and reports write them."""
DATE_FORMAT = "j F Y"
