"""What the barre's pages show."""
