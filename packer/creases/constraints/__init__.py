"""What a tip layout must satisfy, as equations and bounds on its variables."""
