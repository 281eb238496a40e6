"""Machines as they are described, and the charge that printing lays on their parts."""
