"""Where floating components settle."""
