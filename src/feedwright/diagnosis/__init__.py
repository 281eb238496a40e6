"""Causes, checks, what to look at next, how to answer."""
