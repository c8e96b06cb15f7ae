"""Control-priority logic: stated in a text file, checked, explained."""
