"""`python -m vibdiag`."""

from vibdiag.commands.main import run

run()
