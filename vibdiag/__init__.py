"""vibdiag: find out why a car shakes, and prove that it no longer does."""

__version__ = "0.1.0"
