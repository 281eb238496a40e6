"""The pages, a file each; every one gives its context as JSON where that is asked for."""
