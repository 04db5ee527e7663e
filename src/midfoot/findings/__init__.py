"""What was seen in a set: measured findings, and the vocabulary for what only a coach sees."""
