"""Files to nouns: one module a format, and the reading of plans."""
