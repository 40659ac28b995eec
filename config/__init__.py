"""The running ground: settings, addresses, schedule, the embedded database and the entry points."""
