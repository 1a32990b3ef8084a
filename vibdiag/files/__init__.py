"""Reading and writing files: strict YAML with positions, atomic writes, and where the shipped data lies."""
