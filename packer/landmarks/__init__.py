"""Landmarks: marks and lines made by folding alone, and the order of pre-creasing."""
