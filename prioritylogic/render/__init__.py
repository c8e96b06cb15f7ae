"""Results as text, JSON and graphs: all that is seen of them. No renderer decides anything."""
