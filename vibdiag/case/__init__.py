"""One complaint: what was said, seen, measured and done, and by whom."""
