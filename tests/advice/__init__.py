"""Tests of `vibdiag/advice`; a package, so that its conftest has a name of its own."""
