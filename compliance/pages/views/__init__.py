"""Pages of the compliance floor."""
