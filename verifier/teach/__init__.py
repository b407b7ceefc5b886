"""Learning: a room that a person operates, lessons, and how answers are graded."""
