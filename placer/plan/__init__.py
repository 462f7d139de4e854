"""The result: where each pin goes, the cuts, the jumpers, the score and the proof; and its file."""
