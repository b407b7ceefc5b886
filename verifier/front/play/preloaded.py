"""Loads what the processes of every page need, once, in the process that they are forked from."""

from importlib import import_module

from verifier.language.library import library
from verifier.language.tables import tables
from verifier.proof.proving import ready_to_prove

for _name in (
    "verifier.explain.explained",
    "verifier.front.play.bench",
    "verifier.front.play.desk",
    "verifier.graph.findings",
    "verifier.model",
    "verifier.proof.workers",
    "verifier.simulate.script_play",
):
    import_module(_name)

tables()
library()
ready_to_prove()
