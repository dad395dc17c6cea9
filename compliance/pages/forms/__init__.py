"""The forms of the compliance floor."""
