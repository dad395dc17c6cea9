"""Pages of the shop floor."""
