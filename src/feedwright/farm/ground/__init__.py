"""What every use case stands on: the farm's folder, names, people, settings, forms, values, text and paper."""
