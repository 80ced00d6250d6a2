"""The nouns: frozen, checked when made, picklable; no files and no algorithms."""
