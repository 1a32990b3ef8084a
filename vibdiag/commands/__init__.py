"""The plain commands. Each prints for a person or, with --json, for a program."""
