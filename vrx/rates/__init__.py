"""Wanted rates, overlaps settled, limits applied, small parts joined."""
