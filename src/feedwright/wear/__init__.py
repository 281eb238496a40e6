"""Duty to exposure, exposure to life, life to outlook."""
