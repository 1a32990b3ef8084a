"""From files that somebody brought back from a road test to one recording: `open_recording` is the only door.

Every reader is two steps. It turns a file into plain tables (`table.py`), and says nothing about their meaning;
`columns.py` finds out from names, units and values which column is what; `several.py` puts the clocks together.
Heavy readers are optional and imported late, each in one file.
"""
