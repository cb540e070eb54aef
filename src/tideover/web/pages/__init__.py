"""One file for each page: what it shows, and what can be done there."""
