"""Acres and amounts that add up."""
