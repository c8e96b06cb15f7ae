"""What a System means, executed."""
