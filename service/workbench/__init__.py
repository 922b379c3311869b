"""The bench: sparks, sphere settings, probe checks, source checks, the switch-on sheet."""
