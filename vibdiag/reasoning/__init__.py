"""Reasoning that knows no case, no file and no screen: rules, posterior, weight of evidence, value of a step."""
