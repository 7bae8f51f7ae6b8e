"""The hole table: every feature of both rails and their liners as columns of arrays."""
