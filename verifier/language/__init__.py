"""Text to syntax tree: the parser, the tree's nodes, the canonical formatter."""

from verifier.language.formatter import format_tree
from verifier.language.layout import format_text
from verifier.language.parser import parse, parse_form
from verifier.language.tables import grammar_text

__all__ = ["format_text", "format_tree", "grammar_text", "parse", "parse_form"]
