"""Runs spread over workers, counted in their order, and the rules that stop them."""
