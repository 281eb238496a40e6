"""A G-code file to its duty: read, time, tally. The compiled hot loop lives here."""
