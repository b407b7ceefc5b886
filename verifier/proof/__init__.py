"""Proof: graph and requirement to a verdict with its evidence. Only here is a solver imported.

The heavy parts are loaded when they are first used.
"""

from verifier.proof.proving import (
    Effort,
    JobResult,
    NoCluster,
    ProofOptions,
    ToolFault,
    prove_job,
)

__all__ = ["Effort", "JobResult", "NoCluster", "ProofOptions", "ToolFault", "prove_job"]
