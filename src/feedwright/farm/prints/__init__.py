"""Prints as they begin and end, runs, the queue, and taking back what was recorded."""
