"""Simulated shops: what the next step is worth in minutes and in wrong repairs, beside other ways of looking."""
