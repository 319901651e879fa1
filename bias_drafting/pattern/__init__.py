"""What is cut and sewn: pieces, tucks and the order of laying."""
