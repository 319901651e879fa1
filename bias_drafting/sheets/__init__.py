"""What a person reads, prints or cuts from."""
