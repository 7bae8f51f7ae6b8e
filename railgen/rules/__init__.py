"""The rules: one module a rule family, pure functions over the arrays of a pattern, each citing its source."""
