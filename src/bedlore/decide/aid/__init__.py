"""First aid: from what is seen to ranked causes, the next check, and what to do."""
