"""What is measured at the bench: readings, kept."""
