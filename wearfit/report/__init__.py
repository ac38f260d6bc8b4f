"""What leaves the house to be read by others: the one-page brief, and files written whole or not at all."""
