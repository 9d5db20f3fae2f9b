"""What papers and spreadsheets say."""
