"""The language server, as an editor meets it."""
