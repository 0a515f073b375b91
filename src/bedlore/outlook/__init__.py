"""Where a bed stands and where it is going: replay of the log, ensembles and their summaries."""
