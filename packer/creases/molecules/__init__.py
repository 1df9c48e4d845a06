"""The universal universal_molecule of a polygon, and a pattern assembled from molecules."""
