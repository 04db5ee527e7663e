"""Training of the plate proposer: drawn plates over open photographs, a small network, its evaluation."""
