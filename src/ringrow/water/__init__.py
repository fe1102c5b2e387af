"""Handbook formulas on plain numbers."""
