"""Cells: from discharge logs and a box of mixed cells to a pack that shares its current."""
