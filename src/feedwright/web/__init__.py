"""Pages and JSON for the browser and for scripts."""
