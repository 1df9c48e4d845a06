"""The figure, its tree, the problem it poses on a sheet, and a packing that judges itself."""
