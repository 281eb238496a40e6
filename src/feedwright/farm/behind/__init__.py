"""What takes seconds on a large farm, worked out in a process beside the pages."""
