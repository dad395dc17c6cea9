"""Forms of the workshop's pages."""
