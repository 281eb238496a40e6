"""Runs the migrations on the connection that the engine hands over."""

from alembic import context

context.configure(connection=context.config.attributes["connection"], target_metadata=None)
context.run_migrations()
