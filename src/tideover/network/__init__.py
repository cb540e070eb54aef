"""The drawing as a network: nodes by number, parts in their places, and what is wrong with the drawing."""

from tideover.network.build import Network, Placed, build, load, open_circuit, settle

__all__ = ["Network", "Placed", "build", "load", "open_circuit", "settle"]
