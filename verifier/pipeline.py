"""The picture as code: text, sources, job, findings, verdicts, result."""
