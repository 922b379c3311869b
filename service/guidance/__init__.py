"""Guidance from standards: clearance, creepage, spacing, insulation, approach, hazard. Never compliance."""
