"""Paper: the advisor's script and the reports, as self-contained HTML that prints well, and as plain text."""
