"""Learning from the log: observation models, smoother, checks, the herd, and how odds held."""
