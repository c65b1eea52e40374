"""What the candidates of a table would show, and which of them suit a bottle and a bath."""
