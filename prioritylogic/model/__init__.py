"""Tree to System: names, groups, units and kinds, checked."""
