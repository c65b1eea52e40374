"""What is wrong with single rows of a stock table."""
