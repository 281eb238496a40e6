"""Feedwright keeps filament printers feeding cleanly."""

__version__ = "0.1.0"
