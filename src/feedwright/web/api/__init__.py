"""The JSON API: what other programs ask of the farm, with an OpenAPI description and a page that explains it."""
