"""The use cases: each loads from records, calls the pure rooms, saves."""
