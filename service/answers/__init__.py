"""Lookups that ask an arrangement: breakdown, gap, pressure, Paschen curve; and the evaluator they share."""
