"""Lists of the workshop's pages."""
