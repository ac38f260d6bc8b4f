"""Parts of the accuracy benchmark: kinds of fleet, the truth, the peers, wearfit itself, scores."""
