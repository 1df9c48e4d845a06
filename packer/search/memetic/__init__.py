"""A population of packings improved by operators, local solves and restarts."""
