"""The lists of the compliance floor."""
