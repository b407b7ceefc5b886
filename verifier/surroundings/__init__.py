"""The surroundings of a job: what the world can do, as happenings over a layout of variables."""

from verifier.surroundings.happenings import Happening
from verifier.surroundings.state import Blocked, Layout, Registers, each_way
from verifier.surroundings.world import World

__all__ = ["Blocked", "Happening", "Layout", "Registers", "World", "each_way"]
