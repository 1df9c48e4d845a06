"""The universal molecule of a polygon, and a pattern assembled from molecules."""
