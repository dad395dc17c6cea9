"""What is known of refrigerants: the catalogue with its data and their sources, fluid properties, safe filling, air in
a cylinder, what an identifier says, what a hose holds, the cautions. Pure: imports `measure`; everything may import it.
"""
