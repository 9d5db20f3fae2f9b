"""What the judge command reads from a file and the rows it writes."""
