"""What is known: parts, how they meet, and every published state of that knowledge."""
