"""Reading and validating what people write: orders, banks, the library and its limit sets."""
