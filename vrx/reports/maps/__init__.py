"""Maps: a page a product, and the map alone, as drawings."""
