"""The page to learn and try on: its server."""
