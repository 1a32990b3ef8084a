"""What opens over the case and closes with Escape; each returns what it has to say to the case screen."""
