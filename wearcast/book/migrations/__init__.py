"""How the tables of a book came about, step by step."""
