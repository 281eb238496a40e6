"""The handbook, the page of one part, and labels."""
