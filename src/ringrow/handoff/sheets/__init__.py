"""Printed sheets for the crew: maps, stops, parts and cautions as PDF, and the same as pictures."""
