"""Visits from plan to release, and bringing a machine back true."""
