"""Who may do what: passphrase, sessions, devices, and the log of what they did."""
