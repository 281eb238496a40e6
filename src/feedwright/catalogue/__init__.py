"""What the trade knows, as data with sources: part kinds, materials, machine builds."""
