"""The report: one HTML file, built as a tree."""
