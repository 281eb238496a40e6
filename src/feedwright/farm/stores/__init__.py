"""Spares and spools: on hand, on order, drawn on, and when to order again."""
