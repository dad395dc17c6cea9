"""Pages of the inventory floor."""
