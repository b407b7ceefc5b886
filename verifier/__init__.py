"""Duskproof: proves that rules for sensor-driven lighting keep to what was promised."""

__version__ = "0.1.0"
