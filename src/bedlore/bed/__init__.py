"""The processes of a bed: heat, water, decay, air, worms, and the hourly step."""
