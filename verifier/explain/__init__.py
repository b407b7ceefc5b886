"""Verdicts to stories: causes, contrast, mending. Empty so far: the front words each run itself."""
