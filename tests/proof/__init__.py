"""Tests of the proof package."""
