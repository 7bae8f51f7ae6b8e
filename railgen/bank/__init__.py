"""The order bank: many serials at once, their summary, and the plan their blanks are cut by."""
