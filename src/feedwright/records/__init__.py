"""The farm's memory: tables, migrations, store, backup."""
