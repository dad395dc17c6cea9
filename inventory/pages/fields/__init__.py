"""Form fields that read quantities, air and names as people type them, with a sentence where they cannot."""
