"""Pages that show results side by side with their numbers."""
