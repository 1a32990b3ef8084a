"""Working on cases: the folder they lie in, one case under the hand with undo, and what is due."""
