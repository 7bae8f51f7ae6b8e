"""Commands: they read, call the flow, write and report; no logic of rails lives here."""
