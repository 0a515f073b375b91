"""Weather series: readers, the generator, and the air inside the building."""
