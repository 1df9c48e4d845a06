"""Trading a little scale for a pattern whose smallest feature can be folded."""
