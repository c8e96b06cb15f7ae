"""Ways to decide: exploration, stories, and their schedule."""
