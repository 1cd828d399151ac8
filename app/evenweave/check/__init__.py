"""Measures held against limits become warnings. Nothing here computes geometry."""
