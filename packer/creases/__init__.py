"""Crease patterns: a packing closed with fillers and filled with molecules."""
