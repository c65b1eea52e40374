"""How the built-in table is made from published collections."""
