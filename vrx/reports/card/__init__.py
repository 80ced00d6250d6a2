"""The cab card: steps laid out on pages, and drawn as a PDF."""
