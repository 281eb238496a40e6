"""What is looked at across all of it: a machine's sheet, what is wanted at hand, search, the books."""
