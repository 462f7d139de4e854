"""Paper and screen: one drawing in mm, the lists, and the writers."""
