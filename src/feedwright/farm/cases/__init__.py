"""Trouble under investigation, and what closed cases teach."""
