"""Constants, materials and parameters, each with its source."""
