"""Text to tree: YAML with positions, the expression grammar, the nodes."""
