"""Spark-gap and breakdown voltage reference service."""

__version__ = "0.2.0"
