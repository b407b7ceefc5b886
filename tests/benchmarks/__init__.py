"""Jobs that grow, and how long they take to prove or to refute."""
