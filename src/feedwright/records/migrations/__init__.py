"""The schema's history, one file a step."""
