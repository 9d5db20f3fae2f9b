"""What is planned and done between screenings."""
