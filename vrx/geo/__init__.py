"""Coordinates, areas, repair and coverages: knows no farming."""
