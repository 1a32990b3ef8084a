"""Tests of what is printed on paper."""
