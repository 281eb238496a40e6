"""Ways in and out: CSV, archives, reports of machines, notices."""
