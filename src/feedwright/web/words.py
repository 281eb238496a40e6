"""Short words beside the choices of a form."""

EVENT_WORDS = {
    "power_cut": "heater and fan went off while hot",
    "hot_stop": "the feed stood still while the nozzle stayed hot",
    "fan_stall": "the sink fan stood still while the nozzle was hot",
    "jam": "the filament would not go on",
    "slip": "the drive slipped or ground the filament",
    "collision": "the nozzle hit something",
    "stored": "put away for a time",
    "returned": "back in use",
    "note": "something else worth knowing",
}
REASON_WORDS = {
    "failed": "it no longer did its job",
    "worn": "it still worked, but showed wear",
    "sound": "nothing wrong was seen",
    "moved": "it goes on elsewhere",
    "retired": "no longer wanted, or gone with another part",
}
