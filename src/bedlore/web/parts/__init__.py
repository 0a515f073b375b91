"""Parts of a farm's description as forms: what each shows, and the farm with what was typed."""
