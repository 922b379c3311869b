"""How the tables of standards are read, and what they ask for."""
