"""What is done at the bench: procedures merged into visits, tramming, calibration, release."""
