"""What to do with a bed today and why: advice, card, pantry, lifeboat and hours to harm."""
