"""Which machine should print what: files held against machines, the chance to finish, the proposals."""
