"""Records: people, attempts, marks, who is current in what, and the trail of who did what."""
