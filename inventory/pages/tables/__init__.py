"""Lists: their columns and filters, said once for the page and for the files."""
