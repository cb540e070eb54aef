"""Drawings as text: SVG in millimetres, and pages that print them at their true size."""
