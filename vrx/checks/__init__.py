"""Complaints about a map: one file a rule, a catalog of them, a runner; and a page for every finding."""
