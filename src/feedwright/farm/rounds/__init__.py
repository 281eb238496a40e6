"""The rounds of service: tasks, the plan that costs least, its words, its sheet, its calendar."""
