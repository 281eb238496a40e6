"""Toolpath files: taken in, read, kept, and offered where they arrive by themselves."""
