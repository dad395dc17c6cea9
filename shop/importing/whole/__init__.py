"""A whole book as files: what they hold (`tables`), written (`give`) and read into a new book (`take`)."""
