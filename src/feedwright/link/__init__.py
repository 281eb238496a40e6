"""A machine on a serial line."""
