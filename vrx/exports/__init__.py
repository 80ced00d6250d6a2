"""Nouns to machine files: one module a format, the receiver's limits, and safe writing."""
