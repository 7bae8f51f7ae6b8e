"""Files out and back in: one module a file format, its writer and its reader."""
