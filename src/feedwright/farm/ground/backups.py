"""Backing the farm up and bringing it back."""

from feedwright.records.backup import backup as backup_farm
from feedwright.records.backup import restore as restore_farm

__all__ = ["backup_farm", "restore_farm"]
