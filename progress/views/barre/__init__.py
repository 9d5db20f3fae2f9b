"""The barre's pages."""
