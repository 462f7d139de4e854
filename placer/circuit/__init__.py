"""What to build: parts, and nets that join their pins."""
