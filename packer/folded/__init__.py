"""The folded form: faces laid by reflections, checks, layer order, difficulty."""
