"""The reference meaning: a checked job run from its statements, in exact arithmetic, no solver."""
