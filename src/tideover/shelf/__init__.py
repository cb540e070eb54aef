"""The shelf: generic parts as data, each with its source.

Nothing here describes anyone's product. The values are text, the way a builder writes them. Most figures are
"typical, unverified" and `Item.source` says so: put the data sheet's or your own reading in their place.
"""

from tideover.shelf.names import find, nearest, search
from tideover.shelf.reading import FAMILIES, Item, items

__all__ = ["FAMILIES", "Item", "find", "items", "nearest", "search"]
