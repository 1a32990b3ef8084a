"""Tests of `vibdiag/reasoning`; a package, so that its conftest has a name of its own."""
