"""Job and verdicts to papers: test sheets, energy, the client's report."""
