"""Tideover computes small battery-backed DC supplies before they are soldered."""

__version__ = "0.1.0"
